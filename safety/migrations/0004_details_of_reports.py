from django.db import migrations
from django.db.models import F


def details_came_with_the_report(apps, _schema_editor):
    """Every report before the phone's came whole."""
    apps.get_model("safety", "Incident").objects.filter(details_at__isnull=True).update(
        details_at=F("reported_at")
    )


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0003_the_phone"),
    ]

    operations = [
        migrations.RunPython(details_came_with_the_report, migrations.RunPython.noop),
    ]
