"""A re-check that is asked for once only; every site keeps asking again until it says otherwise."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0009_briefing_held_by"),
    ]

    operations = [
        migrations.AddField(
            model_name="siterules",
            name="recheck_once",
            field=models.BooleanField(
                default=False,
                verbose_name="one re-check is enough: a booster, or an adequate titre a year or more after the series",
            ),
        ),
    ]
