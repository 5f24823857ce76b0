"""What really happened at a vaccination session: who came, who got the dose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid, Refused
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import Evidence, Purpose, Session, SessionPlace, User
from staff.selectors.campaign.sessions import DoseToTake, dose_to_take
from staff.services.audit import audit_write
from staff.services.campaign.session_notes import Faults, Note, Outcome, Table, fault_of
from staff.services.record.clearance import lock_people
from staff.services.record.records import dose_record


@dataclass(frozen=True)
class Recorded:
    """The places that got a dose, and how many changed otherwise; nothing when all was on record already."""

    given: tuple[SessionPlace, ...]
    changed: int

    @property
    def doses(self) -> int:
        return len(self.given)


@retried
def session_record(*, actor: User, session: Session, notes: Sequence[Note], now: datetime) -> Recorded:
    """Note what became of each person; doses go on the record by `dose_record`. All of it or nothing.

    Sent again it changes nothing. A dose that was given stays: another word about it is refused, and what is wrong
    is voided on the person's own page. Raises `Conflict` for a cancelled session, one that lies ahead, or a dose
    that stands already; `NotAllowed` for who would note their own dose; `Invalid` for what can't be, and for
    somebody unplanned to whom the program proposes no dose. Each names every row that is wrong, by person and field.
    """
    with transaction.atomic():
        table = _lock(session, notes)
        locked = table.session
        if locked.state == Session.State.CANCELLED:
            raise Conflict(_("This session is cancelled."), code="session-cancelled")
        if locked.held_on > locked.site.local_date(now):
            raise Conflict(_("This session lies ahead; record it on its day or later."), code="session-ahead")
        given, changed = _note_all(actor, table, notes, now)
        _held(locked, actor, len(given), changed, now)
    return Recorded(tuple(given), changed)


def _lock(session: Session, notes: Sequence[Note]) -> Table:
    """People before all else, in the order of their keys: see staff.services.record.clearance."""
    keys = {note.person_id for note in notes} | set(session.places.values_list("person", flat=True))
    people = {person.pk: person for person in lock_people(session.site.people.filter(pk__in=keys))}
    locked = (
        Session.objects.select_for_update(no_key=True, of=("self",))
        .select_related("campaign__regimen", "campaign__site__rules", "site")
        .get(pk=session.pk)
    )
    places = {place.person_id: place for place in locked.places.select_related("person", "dose")}
    return Table(locked, people, places)


def _note_all(
    actor: User, table: Table, notes: Sequence[Note], now: datetime
) -> tuple[list[SessionPlace], int]:
    """Work off every note, then refuse the whole when any was wrong."""
    faults, given, changed, seen = Faults(), list[SessionPlace](), 0, set[int]()
    for note in sorted(notes, key=lambda note: note.person_id):
        place = table.places.get(note.person_id)
        try:
            if note.person_id in seen:
                raise Invalid({"number": _("This person stands in two rows; keep one of them.")})
            seen.add(note.person_id)
            if (why := fault_of(note, table)) is not None:
                raise why
            if place is not None and place.outcome == Outcome.GIVEN:
                continue
            if note.outcome == Outcome.GIVEN:
                given.append(_give(actor, table, note, now))
            elif place is not None:
                changed += _other(place, note)
        except Refused as refused:
            faults.add(note, table.people.get(note.person_id), refused)
    faults.settle()
    return given, changed


def _give(actor: User, table: Table, note: Note, now: datetime) -> SessionPlace:
    session, person = table.session, table.people[note.person_id]
    place, given_on = table.places.get(person.pk), note.given_on or table.session.held_on
    if place is None or not note.planned:
        take = dose_to_take(session.campaign, person, given_on)
        if take.doubt:
            raise Invalid({"number": take.doubt})
        place = place or SessionPlace(session=session, person=person)
        place.planned, place.number, place.injections = False, take.number, take.injections
    else:
        take = DoseToTake(place.number, place.injections, Purpose.PRE_EXPOSURE)
    place.dose = dose_record(
        actor=actor,
        person=person,
        given_on=given_on,
        now=now,
        purpose=take.purpose,
        route=session.campaign.route,
        injections=take.injections,
        product=note.product,
        batch=note.batch,
        place=session.place,
        evidence=Evidence.REGISTER,
        regimen=session.campaign.regimen if take.in_series else None,
    )
    place.outcome, place.reason = Outcome.GIVEN, ""
    place.save()
    return place


def _other(place: SessionPlace, note: Note) -> bool:
    """Note that no dose was given; returns whether that is news."""
    reason = "" if note.outcome == Outcome.EXPECTED else within(note.reason, SessionPlace, "reason")
    if (place.outcome, place.reason) == (note.outcome, reason):
        return False
    place.outcome, place.reason = note.outcome, reason
    place.save(update_fields=["outcome", "reason"])
    return True


def _held(session: Session, actor: User, given: int, changed: int, now: datetime) -> None:
    if not given and not changed:
        return
    session.state, session.changed_at = Session.State.HELD, now
    session.save(update_fields=["state", "changed_at"])
    audit_write(
        actor=actor,
        action="session.recorded",
        now=now,
        site=session.site,
        target=f"session:{session.pk}",
        given=given,
        otherwise=changed,
    )
