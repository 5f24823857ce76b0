from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0007_late_reports"),
    ]

    operations = [
        migrations.AddField(
            model_name="visit",
            name="next_on",
            field=models.DateField(blank=True, null=True, verbose_name="next date"),
        ),
    ]
