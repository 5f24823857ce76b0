"""Where routes may be mixed, doses are read by a regimen of the route that was used: whoever has some is recomputed.

Until then the guards refuse the person, as in any other recompute (staff.services.record.recompute).
"""

from django.db import migrations


def mark(apps, _schema_editor):
    Person, Pending = apps.get_model("staff", "Person"), apps.get_model("staff", "ClearancePending")
    people = Person.objects.filter(
        site__rules__mixed_routes=True, doses__isnull=False, clearance_pending__isnull=True
    )
    keys = people.order_by("pk").values_list("pk", flat=True).distinct()
    Pending.objects.bulk_create((Pending(person_id=pk) for pk in keys), batch_size=2000)


class Migration(migrations.Migration):
    dependencies = [
        ("staff", "0014_titre_evidence"),
    ]

    operations = [migrations.RunPython(mark, migrations.RunPython.noop)]
