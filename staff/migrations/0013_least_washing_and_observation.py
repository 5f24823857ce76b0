"""No site washes for less than 10 minutes or watches an animal for less than 10 days; a smaller figure is raised."""

import django.core.validators
from django.db import migrations, models


def raise_figures(apps, _editor):
    for field in ("wash_minutes", "observation_days"):
        apps.get_model("staff", "SiteRules").objects.filter(**{f"{field}__lt": 10}).update(**{field: 10})


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0001_squashed_0012_guesses_holidays_travel"),
    ]

    operations = [
        migrations.RunPython(raise_figures, migrations.RunPython.noop),
        migrations.AlterField(
            model_name="siterules",
            name="wash_minutes",
            field=models.PositiveSmallIntegerField(
                default=15,
                validators=[django.core.validators.MinValueValidator(10)],
                verbose_name="minutes of washing with soap and running water",
            ),
        ),
        migrations.AlterField(
            model_name="siterules",
            name="observation_days",
            field=models.PositiveSmallIntegerField(
                default=10,
                validators=[django.core.validators.MinValueValidator(10)],
                verbose_name="days a dog or cat is watched",
            ),
        ),
        migrations.AddConstraint(
            model_name="siterules",
            constraint=models.CheckConstraint(
                condition=models.Q(("wash_minutes__gte", 10)), name="washing_is_long_enough"
            ),
        ),
        migrations.AddConstraint(
            model_name="siterules",
            constraint=models.CheckConstraint(
                condition=models.Q(("observation_days__gte", 10)), name="observation_is_long_enough"
            ),
        ),
    ]
