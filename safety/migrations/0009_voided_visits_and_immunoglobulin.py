import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0008_next_date_of_the_clinic"),
        ("staff", "0015_standings_by_the_route_used"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="visit",
            name="visit_once_a_day",
        ),
        migrations.AddField(
            model_name="referral",
            name="void_reason",
            field=models.CharField(blank=True, max_length=300, verbose_name="why voided"),
        ),
        migrations.AddField(
            model_name="referral",
            name="voided_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="referral",
            name="voided_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="visit",
            name="immunoglobulin_amount",
            field=models.CharField(blank=True, max_length=80, verbose_name="amount of immunoglobulin"),
        ),
        migrations.AddField(
            model_name="visit",
            name="immunoglobulin_on",
            field=models.DateField(blank=True, null=True, verbose_name="immunoglobulin given on"),
        ),
        migrations.AddField(
            model_name="visit",
            name="immunoglobulin_said",
            field=models.CharField(blank=True, max_length=300, verbose_name="said later"),
        ),
        migrations.AddField(
            model_name="visit",
            name="void_reason",
            field=models.CharField(blank=True, max_length=300, verbose_name="why voided"),
        ),
        migrations.AddField(
            model_name="visit",
            name="voided_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="visit",
            name="voided_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AlterField(
            model_name="visit",
            name="immunoglobulin",
            field=models.CharField(
                choices=[
                    ("yes", "given"),
                    ("no", "not given"),
                    ("unavailable", "not available"),
                    ("unknown", "don't know"),
                ],
                default="unknown",
                max_length=12,
                verbose_name="immunoglobulin",
            ),
        ),
        migrations.AddConstraint(
            model_name="referral",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_reason", ""), ("voided_at__isnull", True), ("voided_by__isnull", True)),
                    models.Q(
                        ("voided_at__isnull", False),
                        ("voided_by__isnull", False),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="voided_referral_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="visit",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voided_at__isnull", True)),
                fields=("incident", "clinic", "visited_on"),
                name="standing_visit_once_a_day",
            ),
        ),
        migrations.AddConstraint(
            model_name="visit",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_reason", ""), ("voided_at__isnull", True), ("voided_by__isnull", True)),
                    models.Q(
                        ("voided_at__isnull", False),
                        ("voided_by__isnull", False),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="voided_visit_says_why",
            ),
        ),
    ]
