import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0024_regimen_edits"),
    ]

    operations = [
        migrations.CreateModel(
            name="OutingChange",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "start_time",
                    models.TimeField(
                        blank=True,
                        help_text="By the clocks of the site.",
                        null=True,
                        verbose_name="start time",
                    ),
                ),
                (
                    "meeting_place",
                    models.CharField(
                        blank=True,
                        help_text="In words everybody of the crew knows.",
                        max_length=200,
                        verbose_name="meeting place",
                    ),
                ),
                (
                    "meeting_latitude",
                    models.FloatField(
                        blank=True,
                        help_text="In degrees, such as -1.28640; south of the equator below zero.",
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-90),
                            django.core.validators.MaxValueValidator(90),
                        ],
                        verbose_name="meeting place: latitude",
                    ),
                ),
                (
                    "meeting_longitude",
                    models.FloatField(
                        blank=True,
                        help_text="In degrees, such as 36.81720; west of Greenwich below zero.",
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(-180),
                            django.core.validators.MaxValueValidator(180),
                        ],
                        verbose_name="meeting place: longitude",
                    ),
                ),
                (
                    "day_phone",
                    models.CharField(
                        blank=True,
                        help_text="Who answers for this outing while it is out.",
                        max_length=40,
                        verbose_name="telephone of the day",
                    ),
                ),
                (
                    "note",
                    models.CharField(
                        blank=True,
                        help_text="Nothing about anybody's health.",
                        max_length=1000,
                        verbose_name="note",
                    ),
                ),
                ("changed_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.AddField(
            model_name="outing",
            name="day_phone",
            field=models.CharField(
                blank=True,
                help_text="Who answers for this outing while it is out.",
                max_length=40,
                verbose_name="telephone of the day",
            ),
        ),
        migrations.AddField(
            model_name="outing",
            name="meeting_latitude",
            field=models.FloatField(
                blank=True,
                help_text="In degrees, such as -1.28640; south of the equator below zero.",
                null=True,
                validators=[
                    django.core.validators.MinValueValidator(-90),
                    django.core.validators.MaxValueValidator(90),
                ],
                verbose_name="meeting place: latitude",
            ),
        ),
        migrations.AddField(
            model_name="outing",
            name="meeting_longitude",
            field=models.FloatField(
                blank=True,
                help_text="In degrees, such as 36.81720; west of Greenwich below zero.",
                null=True,
                validators=[
                    django.core.validators.MinValueValidator(-180),
                    django.core.validators.MaxValueValidator(180),
                ],
                verbose_name="meeting place: longitude",
            ),
        ),
        migrations.AddField(
            model_name="outing",
            name="meeting_place",
            field=models.CharField(
                blank=True,
                help_text="In words everybody of the crew knows.",
                max_length=200,
                verbose_name="meeting place",
            ),
        ),
        migrations.AddField(
            model_name="outing",
            name="note",
            field=models.CharField(
                blank=True, help_text="Nothing about anybody's health.", max_length=1000, verbose_name="note"
            ),
        ),
        migrations.AddField(
            model_name="outing",
            name="start_time",
            field=models.TimeField(
                blank=True, help_text="By the clocks of the site.", null=True, verbose_name="start time"
            ),
        ),
        migrations.AddConstraint(
            model_name="outing",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("meeting_latitude__isnull", True), ("meeting_longitude__isnull", True)),
                    models.Q(
                        ("meeting_latitude__range", (-90, 90)), ("meeting_longitude__range", (-180, 180))
                    ),
                    _connector="OR",
                ),
                name="outing_position_is_on_earth",
            ),
        ),
        migrations.AddField(
            model_name="outingchange",
            name="changed_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="outingchange",
            name="outing",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="changes", to="staff.outing"
            ),
        ),
    ]
