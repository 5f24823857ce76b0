from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0001_squashed_0005_message_reasons"),
    ]

    operations = [
        migrations.AddField(
            model_name="phonemessage",
            name="held_at",
            field=models.DateTimeField(blank=True, null=True, verbose_name="held"),
        ),
    ]
