"""Whoever has a dose without a standing, or may lack the due date of a letter, is recomputed by the ticks.

Until then the guards refuse the person: the marks are those of any other recompute (staff.services.recompute).
"""

from django.db import migrations
from django.db.models import Exists, OuterRef, Q


def mark(apps, _schema_editor):
    Person, Dose = apps.get_model("staff", "Person"), apps.get_model("staff", "Dose")
    Pending = apps.get_model("staff", "ClearancePending")
    bare = Dose.objects.filter(person=OuterRef("pk"), standing__isnull=True)
    people = Person.objects.filter(
        Q(Exists(bare)) | Q(immunocompromised=True), clearance_pending__isnull=True
    ).values_list("pk", flat=True)
    Pending.objects.bulk_create((Pending(person_id=pk) for pk in people), batch_size=2000)


def unmark(apps, _schema_editor):
    # A mark without a change of rules is unknown to the version before; its clearances stay as they are stored.
    apps.get_model("staff", "ClearancePending").objects.filter(change__isnull=True).delete()


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0007_clearance_marks"),
    ]

    operations = [migrations.RunPython(mark, unmark)]
