"""Whether a titre's report was seen; those on record keep counting."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0013_least_washing_and_observation"),
    ]

    operations = [
        migrations.AddField(
            model_name="titre",
            name="evidence",
            field=models.CharField(
                choices=[
                    ("report-seen", "the laboratory's report seen"),
                    ("none", "no report seen yet: does not clear anyone"),
                ],
                default="report-seen",
                max_length=20,
                verbose_name="evidence",
            ),
        ),
    ]
