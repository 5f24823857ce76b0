"""What really happened at a vaccination session: who came, who got the dose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from staff.errors import Conflict, Invalid
from staff.models import Evidence, Person, Session, SessionPlace, User
from staff.services.audit import audit_write
from staff.services.clearance import lock_people
from staff.services.records import dose_record
from staff.services.transactions import retried

Outcome = SessionPlace.Outcome
RECORDABLE = (Outcome.EXPECTED, Outcome.GIVEN, Outcome.ABSENT, Outcome.REFUSED)


@dataclass(frozen=True)
class Recorded:
    """How many doses were added, and how many places changed otherwise; both 0 when all was on record already."""

    doses: int
    changed: int


@retried
def session_record(
    *,
    actor: User,
    session: Session,
    outcomes: Mapping[int, str],
    now: datetime,
    product: str = "",
    batch: str = "",
) -> Recorded:
    """Note what became of each place (by key); doses are added to the record. All or nothing.

    Sent again it changes nothing: a place whose dose was given keeps it. A dose given in error is voided on the
    person's own page. Raises `Invalid` for a place of another session, `Conflict` for a cancelled session, one
    that lies ahead, or a dose already on record for that person and day.
    """
    with transaction.atomic():
        # People before all else, in the order of their keys: see staff.services.clearance.
        expected = session.places.values("person")
        lock_people(Person.objects.filter(pk__in=expected))
        locked = (
            Session.objects.select_for_update(no_key=True)
            .select_related("campaign__regimen", "site")
            .get(pk=session.pk)
        )
        if locked.state == Session.State.CANCELLED:
            raise Conflict(_("This session is cancelled."), code="session-cancelled")
        if locked.held_on > locked.site.local_date(now):
            raise Conflict(_("This session lies ahead; record it on its day or later."), code="session-ahead")
        places = {place.pk: place for place in locked.places.select_related("person__site__rules")}
        _check(outcomes, places)
        given, changed = 0, 0
        for key, outcome in sorted(outcomes.items()):
            place = places[key]
            if place.outcome in (outcome, Outcome.GIVEN, Outcome.MOVED):
                continue
            if outcome == Outcome.GIVEN:
                place.dose = dose_record(
                    actor=actor,
                    person=place.person,
                    given_on=locked.held_on,
                    now=now,
                    route=locked.campaign.route,
                    injections=place.injections,
                    product=product,
                    batch=batch,
                    place=locked.place,
                    evidence=Evidence.REGISTER,
                    regimen=locked.campaign.regimen,
                )
                given += 1
            else:
                changed += 1
            place.outcome = outcome
            place.save(update_fields=["outcome", "dose"])
        _held(locked, actor, given, changed, now)
    return Recorded(given, changed)


def _check(outcomes: Mapping[int, str], places: Mapping[int, SessionPlace]) -> None:
    if set(outcomes) - set(places):
        raise Invalid({"places": _("Somebody on this list belongs to another session.")})
    if any(outcome not in RECORDABLE for outcome in outcomes.values()):
        raise Invalid({"places": _("Say for each person: given, didn't come, or not given.")})


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
