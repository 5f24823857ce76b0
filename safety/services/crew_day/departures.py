"""Before a crew leaves: who is there, what is missing, and who takes an absent person's place on the spot."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid, NotAllowed
from safety.models import Departure, DeparturePerson
from safety.notices.outing.left_without import DEPARTURES
from safety.rules.crew_day.outing_day import Day, leaving_day
from safety.selectors.crew_day.outing_day import (
    absent_of,
    departure_of,
    leads_crew,
    missing_of,
    without_words,
)
from safety.services.crew_day.crew_roll import (
    Roll,
    crew_catch_up,
    roll_apply,
    roll_check,
    roll_lock,
    roll_need_clear,
    roll_rows,
)
from safety.services.crew_day.departure_answers import (
    Answers,
    check_clinic,
    check_kit,
    clinic_list_update,
    departure_facts,
)
from safety.services.notices.notices import notices_tell
from staff.ground.transactions import retried
from staff.models import Assignment, Crew, Outing, User
from staff.services.audit import audit_write
from staff.services.outing.crews import crew_left_set


@retried
def departure_record(*, actor: User, crew: Crew, roll: Roll, answers: Answers, now: datetime) -> Departure:
    """Record that a crew leaves, on its outing's date alone, and change its roster as the roll says: all or nothing.

    Raises `NotAllowed`, `Conflict` for a wrong day, a second departure or a roster that isn't the one answered for,
    `Invalid` naming fields (going without something needs a reason), `NotCleared` for who is here and isn't clear, and
    whatever `roster_assign` refuses with. Whoever a waiting recompute takes off stays off though it is refused.
    """
    crew_catch_up(crew=crew, now=now)
    with transaction.atomic():
        outing = roll_lock(crew=crew, roll=roll, now=now)
        _check_open(actor, crew, outing, now)
        before = list(crew.assignments.select_related("crew", "person", "outing").order_by("pk"))
        roll_check(before=before, roll=roll)
        roll_need_clear(actor=actor, outing=outing, roll=roll, now=now)
        check_clinic(outing, answers)
        check_kit(crew, answers)
        roll_apply(actor=actor, outing=outing, crew=crew, before=before, roll=roll, now=now)
        departure = _write(departure_facts(actor, outing, crew, answers, now), before, roll)
        crew_left_set(crew=crew, left_at=now)
        clinic_list_update(actor, departure, now)
        audit_write(
            actor=actor,
            action="departure.recorded",
            now=now,
            site=outing.site,
            target=f"crew:{crew.pk}",
            missing=[code.value for code in missing_of(departure, absent_of(departure))],
            reason=departure.missing_reason,
        )
        notices_tell(origin=DEPARTURES, subject=departure, now=now)
    return departure


def _check_open(actor: User, crew: Crew, outing: Outing, now: datetime) -> None:
    if not leads_crew(actor, crew):
        raise NotAllowed(_("The crew's lead or a safety officer of the site records this."))
    if outing.cancelled_at is not None:
        raise Conflict(_("This outing is cancelled."), code="outing-cancelled")
    day = leaving_day(outing.date, outing.site.local_date(now))
    if day is Day.AHEAD:
        message = _("This outing is on %(day)s: a crew's leaving is recorded on the day itself.")
        raise Conflict(message % {"day": date_format(outing.date)}, code="outing-ahead")
    if day is Day.OVER:
        raise Conflict(_("This outing is over; a crew's leaving is recorded on the day."), code="outing-over")
    if departure_of(crew) is not None:
        raise _left_already()


def _left_already() -> Conflict:
    return Conflict(
        _(
            "This crew's leaving is recorded already. Look at it; if it is wrong, void it and record it again."
        ),
        code="left-already",
    )


def _write(departure: Departure, before: list[Assignment], roll: Roll) -> Departure:
    """Save it with its people; going without something says why, and a reason for nothing isn't kept."""
    unfilled = {gone.person for gone in roll.absent if gone.instead is None}
    absent = [row.person for row in before if row.person_id in unfilled]
    departure.crew_whole = not absent and not departure.roles_missing
    if not missing_of(departure, absent):
        departure.missing_reason = ""
    elif not departure.missing_reason:
        words = _("Say why the crew leaves without %(what)s.")
        what = ", ".join(without_words(departure, absent))
        raise Invalid({"missing_reason": words % {"what": what}})
    try:
        with transaction.atomic():
            departure.save()
    except IntegrityError as error:
        raise _left_already() from error
    DeparturePerson.objects.bulk_create(roll_rows(departure=departure, before=before, roll=roll))
    return departure
