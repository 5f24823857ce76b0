"""An assignment that ends stays as a row and names its withdrawal.

Rows that ended before are put back as far as the trail says when and by whom they were begun. Of the others nobody knows
since when they stood; their withdrawals stay without an assignment.
"""

import django.db.models.deletion
from django.db import migrations, models

EVER = "assignment_standing_or_ended"


def put_back(apps, editor):
    on_postgres = editor.connection.vendor == "postgresql"
    if on_postgres:
        # The guard of before this migration knows no ended row; the new one is put in place after it.
        editor.execute("ALTER TABLE staff_assignment DISABLE TRIGGER USER")
    apps.get_model("staff", "Assignment").objects.bulk_create(_ended(apps))
    if on_postgres:
        editor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        editor.execute("ALTER TABLE staff_assignment ENABLE TRIGGER USER")


def _ended(apps):
    begun = _begun(apps)
    crews = {
        (outing, name): pk
        for pk, outing, name in apps.get_model("staff", "Crew").objects.values_list("pk", "outing", "name")
    }
    last, rows = {}, []
    for off in apps.get_model("staff", "Withdrawal").objects.order_by("withdrawn_at", "pk"):
        pair = (off.outing_id, off.person_id)
        starts = [one for one in begun.get(pair, []) if last.get(pair, one[0]) <= one[0] <= off.withdrawn_at]
        last[pair] = off.withdrawn_at
        crew = crews.get((off.outing_id, off.crew_name))
        if not starts or crew is None:
            continue
        at, actor, proposed = max(starts)
        rows.append(
            apps.get_model("staff", "Assignment")(
                outing_id=off.outing_id,
                crew_id=crew,
                person_id=off.person_id,
                role=off.role,
                assigned_at=at,
                assigned_by_id=actor,
                proposed=proposed,
                withdrawal=off,
            )
        )
    return rows


def _begun(apps):
    """By outing and person: when they were put on, by whom, and whether as proposed."""
    trail = apps.get_model("staff", "AuditEntry").objects.filter(actor__isnull=False)
    found = {}
    by_hand = trail.filter(action="roster.assigned", target__startswith="outing:", person__isnull=False)
    for target, person, at, actor in by_hand.values_list("target", "person", "at", "actor"):
        found.setdefault((int(target.removeprefix("outing:")), person), []).append((at, actor, False))
    for at, actor, detail in trail.filter(action="roster.filled").values_list("at", "actor", "detail"):
        for outing, _crew, person, _role in detail.get("people", []):
            found.setdefault((outing, person), []).append((at, actor, True))
    return found


def take_away(apps, editor):
    on_postgres = editor.connection.vendor == "postgresql"
    if on_postgres:
        editor.execute("ALTER TABLE staff_assignment DISABLE TRIGGER USER")
    apps.get_model("staff", "Assignment").objects.filter(withdrawal__isnull=False).delete()
    if on_postgres:
        editor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        editor.execute("ALTER TABLE staff_assignment ENABLE TRIGGER USER")


def joined(model):
    return models.ForeignKey(
        on_delete=django.db.models.deletion.PROTECT,
        related_name="assignments",
        related_query_name=EVER,
        to=model,
    )


class Migration(migrations.Migration):
    dependencies = [("staff", "0022_purposes_from_the_table")]

    operations = [
        migrations.AlterField("assignment", "outing", joined("staff.outing")),
        migrations.AlterField("assignment", "crew", joined("staff.crew")),
        migrations.AlterField("assignment", "person", joined("staff.person")),
        migrations.AlterField(
            "assignment",
            "clearance",
            models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="assignments",
                to="staff.clearance",
            ),
        ),
        migrations.AddField(
            "assignment",
            "withdrawal",
            models.OneToOneField(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="assignment",
                to="staff.withdrawal",
            ),
        ),
        migrations.RemoveConstraint("assignment", "person_once_an_outing"),
        migrations.AddConstraint(
            "assignment",
            models.UniqueConstraint(
                condition=models.Q(("withdrawal__isnull", True)),
                fields=("outing", "person"),
                name="person_once_an_outing",
            ),
        ),
        migrations.AddConstraint(
            "assignment",
            models.CheckConstraint(
                condition=models.Q(
                    models.Q(("clearance__isnull", False), ("withdrawal__isnull", True)),
                    models.Q(("clearance__isnull", True), ("withdrawal__isnull", False)),
                    _connector="OR",
                ),
                name="standing_assignment_rests_on_a_clearance",
            ),
        ),
        migrations.RunPython(put_back, take_away),
    ]
