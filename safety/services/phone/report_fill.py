"""A report's answers, written into a case that has none yet."""

from __future__ import annotations

from datetime import datetime

from safety.models import Incident
from safety.notices.case.report import REPORTS
from safety.services.case.closing import incident_reopen_for_report
from safety.services.case.exposure_hold import incident_hold, release_from
from safety.services.case.incidents import wounds_write
from safety.services.notices.notices import notices_tell
from safety.services.phone.contents import PhoneReport
from safety.services.phone.reading import Sent, body_digest
from safety.services.phone.sender import Sender
from staff.models import Person
from staff.selectors.outing.on_crews import outing_of
from staff.services.audit import audit_write


def report_fill(
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
    release_from(incident, before, sender.placed_by, now)
