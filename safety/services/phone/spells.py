"""Washing as a phone tells it: all spells so far, each known by its start, in whatever order the messages arrive."""

from __future__ import annotations

from datetime import datetime

from safety.models import Answer, Incident, WashSpell
from safety.services.case.incident_facts import SpellReport, Washing
from safety.services.case.incidents import spell_add
from safety.services.phone.sender import Sender
from staff.services.audit import audit_write


def spells_merge(
    *, incident: Incident, washing: Washing, sender: Sender, newest: bool, now: datetime
) -> bool:
    """Bring the case's spells up to what the message says; True when anything changed.

    `newest`: nothing written later has arrived yet. An older message adds what is missing and changes nothing:
    a spell that was stopped doesn't run again, and a voided one stays voided.
    """
    # Voided ones too: what the phone says again brings none of them back.
    every = incident.wash_spells(manager="everything").select_for_update()
    rows = {row.started_at: row for row in every}
    changed = False
    # Those that are over come first, so that the one clock that may run is free for the last.
    for spell in sorted(washing.spells, key=lambda spell: (spell.stopped_at is None, spell.started_at)):
        row = rows.get(spell.started_at)
        if row is None:
            made = spell_add(incident, spell, sender.placed_by)
            changed |= made is not None
        elif row.voided_at is None:
            changed |= _bring_up(row, spell, newest)
    changed |= _say(incident, washing, newest)
    if changed:
        audit_write(
            actor=sender.placed_by,
            action="wash.told",
            now=now,
            person=incident.person,
            target=incident.reference,
            spells=len(washing.spells),
            **sender.audited,
        )
    return changed


def _bring_up(row: WashSpell, spell: SpellReport, newest: bool) -> bool:
    said = {}
    if spell.stopped_at is not None and (row.stopped_at is None or newest):
        said["stopped_at"] = spell.stopped_at
    for name in ("soap", "running_water"):
        answer = getattr(spell, name)
        if answer != Answer.UNKNOWN and (newest or getattr(row, name) == Answer.UNKNOWN):
            said[name] = answer
    fresh = {name: value for name, value in said.items() if getattr(row, name) != value}
    if fresh:
        WashSpell.objects.filter(pk=row.pk).update(**fresh)
    return bool(fresh)


def _say(incident: Incident, washing: Washing, newest: bool) -> bool:
    fresh: dict[str, object] = {}
    if washing.antiseptic != Answer.UNKNOWN and (newest or incident.antiseptic == Answer.UNKNOWN):
        fresh["antiseptic"] = washing.antiseptic
    if washing.not_washed and newest:
        fresh["not_washed"] = True
    fresh = {name: value for name, value in fresh.items() if getattr(incident, name) != value}
    if fresh:
        Incident.objects.filter(pk=incident.pk).update(**fresh)
        for name, value in fresh.items():
            setattr(incident, name, value)
    return bool(fresh)
