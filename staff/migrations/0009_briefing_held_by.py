"""Who held a safety briefing; blank for those recorded before."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0008_mark_records_without_standings"),
    ]

    operations = [
        migrations.AddField(
            model_name="briefing",
            name="held_by",
            field=models.CharField(blank=True, default="", max_length=120, verbose_name="held by"),
            preserve_default=False,
        ),
    ]
