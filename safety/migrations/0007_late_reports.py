from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0006_when_a_message_was_held"),
    ]

    operations = [
        migrations.AddField(
            model_name="incident",
            name="late_report_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
    ]
