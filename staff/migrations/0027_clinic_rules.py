"""How long a clinic's word is relied on, and what more travel is worth: the site's figures."""

import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0026_account_changes"),
    ]

    operations = [
        migrations.AddField(
            model_name="siterules",
            name="clinic_news_days",
            field=models.PositiveSmallIntegerField(
                default=7,
                validators=[
                    django.core.validators.MinValueValidator(1),
                    django.core.validators.MaxValueValidator(31),
                ],
                verbose_name="days for which what a clinic said of its stock is relied on",
            ),
        ),
        migrations.AddField(
            model_name="siterules",
            name="clinic_of_day_minutes",
            field=models.PositiveSmallIntegerField(
                default=10,
                validators=[django.core.validators.MaxValueValidator(120)],
                verbose_name="minutes farther that the clinic of the day may be and still go first",
            ),
        ),
        migrations.AddField(
            model_name="siterules",
            name="immunoglobulin_minutes",
            field=models.PositiveSmallIntegerField(
                default=30,
                validators=[django.core.validators.MaxValueValidator(240)],
                verbose_name="minutes of more travel that immunoglobulin is worth",
            ),
        ),
        migrations.AddConstraint(
            model_name="siterules",
            constraint=models.CheckConstraint(
                condition=models.Q(("clinic_news_days__range", (1, 31))), name="clinic_news_grows_old"
            ),
        ),
    ]
