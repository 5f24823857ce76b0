"""Where an opened message goes, by its kind."""

from __future__ import annotations

from datetime import datetime

from safety.models import HandledTally, Kind
from safety.services.phone.contents import (
    Handled,
    PhoneReport,
    read_alarm,
    read_handled,
    read_report,
    read_wash,
)
from safety.services.phone.outcome import (
    COUNT_UNREADABLE,
    NOT_YOURS,
    UNREADABLE,
    Outcome,
    State,
    held,
    placed,
)
from safety.services.phone.reading import HANDLED, Sent
from safety.services.phone.reports import incident_about, newest_placed, report_place
from safety.services.phone.sender import Sender
from safety.services.phone.spells import spells_merge
from staff.models import Outing, Person, User

WASHING_KINDS = ("alarm", "report", "wash")


def message_place(*, sent: Sent, sender: Sender, now: datetime) -> Outcome:
    """Write the message into the case, the spells or the tally it belongs to; runs in the caller's transaction."""
    if sent.kind == "alarm":
        return report_place(sent=sent, report=read_alarm(sent.body, sent.made_at), sender=sender, now=now)
    if sent.kind == "report":
        return report_place(sent=sent, report=read_report(sent.body, sent.made_at), sender=sender, now=now)
    if sent.kind == "wash":
        return _wash(sent, sender, now)
    if sent.kind != HANDLED:
        return held(UNREADABLE)
    handled = read_handled(sent.body)
    if handled is None:
        return held(COUNT_UNREADABLE)
    return _tally(handled, sent, sender.person)


def _wash(sent: Sent, sender: Sender, now: datetime) -> Outcome:
    incident = incident_about(sent.about)
    washing, faults = read_wash(sent.body)
    if incident is None:
        return Outcome(State.WAITING)
    if not sender.owns(incident):
        return held(NOT_YOURS, incident)
    last = newest_placed(incident, *WASHING_KINDS)
    newest = last is None or sent.made_at >= last
    spells_merge(incident=incident, washing=washing, sender=sender, newest=newest, now=now)
    return placed(incident, faults)


def _tally(handled: Handled, sent: Sent, sender: Person) -> Outcome:
    """Counts are absolute: of two messages about one day and task the one written later stands."""
    outing = Outing.objects.filter(pk=handled.outing, site=sender.site_id).first() if handled.outing else None
    for task, count in handled.counts.items():
        said = {"site": sender.site, "outing": outing, "count": count, "made_at": sent.made_at}
        row, made = HandledTally.objects.get_or_create(
            sender=sender, date=handled.day, task=task, defaults=said
        )
        if not made:
            HandledTally.objects.filter(pk=row.pk, made_at__lt=sent.made_at).update(**said)
    lost = ("outing",) if handled.outing and outing is None else ()
    return placed(None, (*handled.faults, *lost))


def place_under(actor: User, sent: Sent, person: Person, now: datetime) -> Outcome:
    """Where a message goes when an officer says whose it is."""
    sender = Sender(person=person, placed_by=actor)
    outcome = message_place(sent=sent, sender=sender, now=now)
    if outcome.state != State.WAITING:
        return outcome
    # Washing whose report never came is a case all the same.
    washing, faults = read_wash(sent.body)
    started = min((spell.started_at for spell in washing.spells), default=sent.made_at)
    report = PhoneReport(
        person=None, kind=Kind.OTHER, happened_at=started, washing=washing, complete=False, faults=faults
    )
    return report_place(sent=sent, report=report, sender=sender, now=now)
