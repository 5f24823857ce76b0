"""Reports from the phone: an alarm makes the case, a report fills it in, and what was filled in is never written over."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import Max

from safety.errors import KeyReused
from safety.models import Incident, PhoneMessage
from safety.notices.case.report import REPORTS
from safety.services.case.closing import incident_reopen_for_report
from safety.services.case.incidents import hold_source, incident_born, incident_hold, wounds_write
from safety.services.notices.notices import notices_tell
from safety.services.phone.contents import PhoneReport
from safety.services.phone.outcome import (
    NOT_ON_CREW,
    NOT_YOURS,
    OVERTAKEN,
    SECOND_REPORT,
    Outcome,
    held,
    placed,
)
from safety.services.phone.reading import Sent
from safety.services.phone.sender import Sender
from safety.services.phone.spells import spells_merge
from staff.ground.transactions import Crossed
from staff.models import Hold, Person
from staff.selectors.outing.on_crews import outing_of
from staff.services.audit import audit_write
from staff.services.record.records import hold_release


def incident_about(about: uuid.UUID | None) -> Incident | None:
    """The case a message is about, locked until the transaction ends."""
    if about is None:
        return None
    locked = Incident.objects.select_for_update(of=("self",), no_key=True).filter(key=about)
    return locked.select_related("site__rules", "person__site__rules", "reported_through").first()


def newest_placed(incident: Incident, *kinds: str) -> datetime | None:
    """When the last message of these kinds that stands in the case was written."""
    rows = PhoneMessage.objects.filter(incident=incident, state=PhoneMessage.State.PLACED, kind__in=kinds)
    newest: datetime | None = rows.aggregate(newest=Max("made_at"))["newest"]
    return newest


def report_place(*, sent: Sent, report: PhoneReport, sender: Sender, now: datetime) -> Outcome:
    """Make the case or fill it in. Raises `Crossed` when another message made it at the same moment."""
    incident = incident_about(sent.about)
    if incident is not None and not sender.owns(incident):
        return held(NOT_YOURS, incident)
    person = sender.person_meant(report.person, report.happened_at)
    if person is None:
        return held(NOT_ON_CREW, incident)
    if incident is None:
        return placed(_make(sent, report, person, sender, now), report.faults)
    return _add(incident, sent, report, person, sender, now)


def _add(
    incident: Incident, sent: Sent, report: PhoneReport, person: Person, sender: Sender, now: datetime
) -> Outcome:
    last_report = newest_placed(incident, "report")
    last = newest_placed(incident, "alarm", "report", "wash")
    older = last_report is not None and sent.made_at <= last_report
    reason = OVERTAKEN if sent.kind == "alarm" and last_report is not None else ""
    if sent.kind == "report" and incident.details_at is not None:
        if incident.body_digest != body_digest(sent.body) and (report.complete or not older):
            return held(SECOND_REPORT, incident)
        reason = OVERTAKEN
    elif sent.kind == "report" and older and not report.complete:
        reason = OVERTAKEN
    elif sent.kind == "report":
        _fill(incident, sent, report, person, sender, now)
    newest = last is None or sent.made_at >= last
    spells_merge(incident=incident, washing=report.washing, sender=sender, newest=newest, now=now)
    return placed(incident, report.faults, reason)


def body_digest(body: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()


def _make(sent: Sent, report: PhoneReport, person: Person, sender: Sender, now: datetime) -> Incident:
    # Only a count of dogs is about no incident.
    assert sent.about is not None
    try:
        born = incident_born(
            key=sent.about,
            digest=body_digest(sent.body),
            person=person,
            facts=report,
            actor=sender.placed_by,
            link=sender.link,
            now=now,
        )
    except KeyReused as other:
        raise Crossed from other
    if not born.made:
        # The alarm and its report arrived together and the other one was first: begin anew and find it.
        raise Crossed
    return born.incident


def _fill(
    incident: Incident, sent: Sent, report: PhoneReport, person: Person, sender: Sender, now: datetime
) -> None:
    """Write the answers into a case that has none yet, or only an unfinished draft."""
    before = incident.person
    facts = report.columns(now) | {
        "body_digest": body_digest(sent.body),
        "site": person.site,
        "person": person,
        "outing": outing_of(person, report.happened_at),
    }
    moved = before.pk != person.pk
    if moved:
        facts["moved_at"] = now
    for name, value in facts.items():
        setattr(incident, name, value)
    incident.save(update_fields=list(facts))
    incident.wounds.all().delete()
    wounds_write(incident, report.wounds)
    audit_write(
        actor=sender.placed_by,
        action="incident.detailed",
        now=now,
        person=person,
        target=incident.reference,
        complete=report.complete,
        **sender.audited,
    )
    if moved:
        _was_somebody_else(incident, before, sender, now)
    incident_reopen_for_report(incident=incident, actor=sender.placed_by, now=now, audited=sender.audited)
    incident_hold(incident, sender.placed_by, now)
    notices_tell(origin=REPORTS, subject=incident, now=now)


def _was_somebody_else(incident: Incident, before: Person, sender: Sender, now: datetime) -> None:
    """The clock was started on one phone for another person: the hold goes with the case."""
    audit_write(
        actor=sender.placed_by,
        action="incident.person-corrected",
        now=now,
        person=before,
        target=incident.reference,
        **sender.audited,
    )
    hold = Hold.objects.filter(person=before, source=hold_source(incident), released_at__isnull=True).first()
    if hold is not None:
        note = f"{incident.reference}: the report says it was somebody else"
        hold_release(
            actor=sender.placed_by, hold=hold, last_day=before.site.local_date(now), note=note, now=now
        )
