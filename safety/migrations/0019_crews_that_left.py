"""Crews whose leaving stands and whose outing is today or later have left."""

from datetime import timedelta

from django.db import migrations
from django.db.models import F
from django.utils import timezone


def fill(apps, _schema_editor):
    # A day of slack: sites' calendars differ.
    since = timezone.now().date() - timedelta(days=1)
    rows = apps.get_model("safety", "Departure").objects.filter(
        voided_at__isnull=True,
        date__gte=since,
        crew__outing__date=F("date"),
        crew__outing__cancelled_at__isnull=True,
    )
    for crew, left_at in rows.values_list("crew", "recorded_at"):
        apps.get_model("staff", "Crew").objects.filter(pk=crew).update(left_at=left_at)


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0018_outing_day"),
        ("staff", "0020_crew_left_at"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
