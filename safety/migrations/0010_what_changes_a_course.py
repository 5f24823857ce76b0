import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0009_voided_visits_and_immunoglobulin"),
        ("staff", "0015_standings_by_the_route_used"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="CourseDate",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField(verbose_name="dose")),
                ("due_on", models.DateField(verbose_name="date")),
                ("written_at", models.DateTimeField()),
                ("replaced_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["number", "id"],
            },
        ),
        migrations.CreateModel(
            name="CourseFact",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("regimen", "another regimen"),
                            ("dates", "new dates from the clinic"),
                            ("place", "goes on elsewhere"),
                            ("ended", "ended"),
                            ("resumed", "resumed"),
                        ],
                        max_length=12,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("said_by", models.CharField(blank=True, max_length=120, verbose_name="who said so")),
                ("reason", models.CharField(blank=True, max_length=300, verbose_name="why")),
                ("before", models.CharField(blank=True, max_length=300)),
                ("after", models.CharField(blank=True, max_length=300)),
                ("doses", models.JSONField(default=list)),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.CreateModel(
            name="PlanChange",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                ("number", models.PositiveSmallIntegerField(verbose_name="dose")),
                ("was_due", models.DateField(blank=True, null=True)),
                ("now_due", models.DateField(blank=True, null=True)),
                ("was_given", models.DateField(blank=True, null=True)),
                ("now_given", models.DateField(blank=True, null=True)),
                ("why", models.JSONField(default=list)),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.AddField(
            model_name="course",
            name="clinic",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="courses",
                to="safety.clinic",
            ),
        ),
        migrations.AddField(
            model_name="course",
            name="end_kind",
            field=models.CharField(
                blank=True,
                choices=[
                    ("completed", "complete: every dose of it is given"),
                    ("stopped", "stopped on the clinician's word"),
                    ("transferred", "handed over for good"),
                    ("error", "entered in error"),
                ],
                max_length=12,
                verbose_name="how it ended",
            ),
        ),
        migrations.AddField(
            model_name="course",
            name="end_said_by",
            field=models.CharField(blank=True, max_length=120, verbose_name="on whose word"),
        ),
        migrations.AddField(
            model_name="course",
            name="place",
            field=models.CharField(blank=True, max_length=160, verbose_name="where it goes on"),
        ),
        migrations.AddField(
            model_name="course",
            name="place_phone",
            field=models.CharField(blank=True, max_length=40, verbose_name="telephone there"),
        ),
        migrations.AddField(
            model_name="course",
            name="planned_facts",
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddField(
            model_name="course",
            name="regimen_name",
            field=models.CharField(blank=True, max_length=160, verbose_name="regimen by name"),
        ),
        migrations.AddField(
            model_name="course",
            name="time_zone",
            field=models.CharField(blank=True, max_length=60, verbose_name="time zone"),
        ),
        migrations.AlterField(
            model_name="course",
            name="regimen",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="staff.regimen",
            ),
        ),
        migrations.AddConstraint(
            model_name="course",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("regimen__isnull", False), models.Q(("regimen_name", ""), _negated=True), _connector="OR"
                ),
                name="course_has_a_regimen_or_a_name",
            ),
        ),
        migrations.AddField(
            model_name="coursedate",
            name="course",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="dates", to="safety.course"
            ),
        ),
        migrations.AddField(
            model_name="coursefact",
            name="by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="coursefact",
            name="course",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="facts", to="safety.course"
            ),
        ),
        migrations.AddField(
            model_name="planchange",
            name="course",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="plan_changes", to="safety.course"
            ),
        ),
        migrations.AddConstraint(
            model_name="coursedate",
            constraint=models.UniqueConstraint(
                condition=models.Q(("replaced_at__isnull", True)),
                fields=("course", "number"),
                name="course_date_once",
            ),
        ),
    ]
