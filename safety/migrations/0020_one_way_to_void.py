"""Who, when and why of every voided entry, all three or none; and room for a whole word about immunoglobulin."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.utils import timezone

NOT_RECORDED = "who voided it was not recorded: whoever recorded it stands in"
NO_REASON = "why it was voided was not recorded"


def complete(apps, schema_editor):
    """Spells say by the audit trail who voided them. Of the rest no service ever wrote less than all three; what was
    written past the services is completed and says so."""
    for name, stands_in in _STAND_INS.items():
        rows = apps.get_model("safety", name).objects
        known = _told(apps) if name == "WashSpell" else {}
        half = models.Q(voided_by__isnull=True) | models.Q(void_reason="")
        for row in rows.filter(half, voided_at__isnull=False):
            by = row.voided_by_id or known.get(row.pk)
            _complete(apps, rows, row, by, stands_in)
        stray = models.Q(voided_by__isnull=False) | ~models.Q(void_reason="")
        for row in rows.filter(stray, voided_at__isnull=True):
            _note(apps, row)
            rows.filter(pk=row.pk).update(voided_by=None, void_reason="")
    if schema_editor.connection.vendor == "postgresql":
        # A table with changes whose foreign keys wait to be checked can't be altered.
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def _told(apps):
    """Who voided which spell, as the audit trail says."""
    entries = apps.get_model("staff", "AuditEntry").objects.filter(action="wash.voided", actor__isnull=False)
    return {entry.detail.get("spell"): entry.actor_id for entry in entries.order_by("pk")}


def _complete(apps, rows, row, by, stands_in):
    reason, told = row.void_reason or NO_REASON, by is not None
    if not told:
        by, said = stands_in(row), f"{reason} ({NOT_RECORDED})"
        # A reason too long to say it there stays whole; the audit trail says it.
        reason = said if len(said) <= 300 else reason
    if not told or reason != row.void_reason:
        _note(apps, row)
    rows.filter(pk=row.pk).update(voided_by=by, void_reason=reason)


def _note(apps, row):
    incident = row.incident if hasattr(row, "incident_id") else row.observation.incident
    apps.get_model("staff", "AuditEntry").objects.create(
        at=timezone.now(),
        action="void.completed",
        site_id=incident.site_id,
        person_id=incident.person_id,
        target=incident.reference,
        detail={
            "row": row.pk,
            "of": row._meta.model_name,
            "voided_by": row.voided_by_id,
            "reason": row.void_reason,
        },
    )


def _reporter(incident):
    through = incident.reported_through
    return incident.reported_by_id or (through.made_by_id if through else None)


_STAND_INS = {
    "WashSpell": lambda row: row.recorded_by_id or _reporter(row.incident),
    "Observation": lambda row: row.begun_by_id,
    "AnimalCheck": lambda row: row.recorded_by_id or row.link.made_by_id,
    "AnimalOutcome": lambda row: row.recorded_by_id,
}
_WHOLE = models.Q(
    models.Q(("void_reason", ""), ("voided_at__isnull", True), ("voided_by__isnull", True)),
    models.Q(
        ("voided_at__isnull", False),
        ("voided_by__isnull", False),
        models.Q(("void_reason", ""), _negated=True),
    ),
    _connector="OR",
)
_CONSTRAINTS = {
    "observation": "voided_observation_says_why",
    "animalcheck": "voided_animal_check_says_why",
    "animaloutcome": "voided_animal_outcome_says_why",
}


class Migration(migrations.Migration):
    dependencies = [
        ("safety", "0019_crews_that_left"),
        ("staff", "0021_one_way_to_void"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="washspell",
            name="voided_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.RunPython(complete, migrations.RunPython.noop),
        *(migrations.RemoveConstraint(model_name=model, name=name) for model, name in _CONSTRAINTS.items()),
        *(
            migrations.AddConstraint(
                model_name=model, constraint=models.CheckConstraint(condition=_WHOLE, name=name)
            )
            for model, name in (_CONSTRAINTS | {"washspell": "voided_spell_says_why"}).items()
        ),
        migrations.AlterField(
            model_name="visit",
            name="immunoglobulin_said",
            field=models.CharField(blank=True, max_length=440, verbose_name="said later"),
        ),
    ]
