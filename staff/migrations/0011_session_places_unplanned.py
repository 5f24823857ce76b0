"""Who came to a session without being expected, and why somebody expected got no dose."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0010_recheck_once"),
    ]

    operations = [
        migrations.AddField(
            model_name="sessionplace",
            name="planned",
            field=models.BooleanField(default=True, verbose_name="was expected"),
        ),
        migrations.AddField(
            model_name="sessionplace",
            name="reason",
            field=models.CharField(blank=True, max_length=200, verbose_name="why no dose was given"),
        ),
    ]
