"""A site's own plan of notices."""

import django.core.validators
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0013_notices_seen_and_gathered"),
        ("staff", "0016_acknowledge_hours"),
    ]

    operations = [
        migrations.CreateModel(
            name="PlanRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "what",
                    models.CharField(
                        choices=[
                            ("dose", "a dose after an exposure"),
                            ("visit", "a clinic visit nobody has recorded"),
                            ("decision", "a clinician's decision nobody has recorded"),
                            ("titre", "a titre after a course"),
                        ],
                        max_length=10,
                        verbose_name="about",
                    ),
                ),
                (
                    "offset_days",
                    models.SmallIntegerField(
                        validators=[
                            django.core.validators.MinValueValidator(-30),
                            django.core.validators.MaxValueValidator(30),
                        ],
                        verbose_name="days from the date (before it: negative)",
                    ),
                ),
                ("repeats_daily", models.BooleanField(default=False, verbose_name="and daily from then on")),
                (
                    "hour",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[django.core.validators.MaxValueValidator(23)],
                        verbose_name="hour (empty: the site's hour of reminders)",
                    ),
                ),
                ("liaison", models.BooleanField(default=False, verbose_name="clinic liaison")),
                ("member", models.BooleanField(default=False, verbose_name="team member")),
                ("officer", models.BooleanField(default=False, verbose_name="safety officer")),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="plan_rows", to="staff.site"
                    ),
                ),
            ],
            options={
                "ordering": ["site", "what", "offset_days", "repeats_daily", "id"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("site", "what", "offset_days", "repeats_daily"), name="plan_row_once_a_day"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("hour__isnull", True), ("hour__lte", 23), _connector="OR"),
                        name="plan_hour_is_an_hour",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("repeats_daily", False), ("offset_days__gte", 1), _connector="OR"
                        ),
                        name="plan_repeats_only_afterwards",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("liaison", True), ("member", True), ("officer", True), _connector="OR"
                        ),
                        name="plan_row_tells_somebody",
                    ),
                ],
            },
        ),
    ]
