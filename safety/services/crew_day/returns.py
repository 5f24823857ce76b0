"""After a crew is back: dogs handled, hours worked, what happened or that nothing did, where the sharps went."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.errors import Conflict, Invalid, NotAllowed
from safety.models import CrewReturn, ReturnTally, Task
from safety.rules.crew_day.outing_day import Day, return_day
from safety.selectors.crew_day.outing_day import leads_crew
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import Crew, Outing, User
from staff.selectors.access import OFFICER, has_role
from staff.services.audit import audit_write
from staff.services.record.clearance import lock_outing
from staff.services.voiding import Voiding, VoidRule, void

MOST_HOURS, MOST_PEOPLE, MOST_DOGS = Decimal(24), 200, 100_000


@dataclass(frozen=True)
class Worked:
    """What a crew brings back. `hours` of each of `people`; `dogs` each counted once, `tallies` by task.

    `none_said`: there was neither an incident nor a near miss.
    """

    hours: Decimal
    people: int
    dogs: int
    sharps_disposed: bool
    sharps_note: str
    incidents: int = 0
    near_misses: int = 0
    none_said: bool = False
    tallies: Mapping[str, int] = field(default_factory=dict)
    note: str = ""


@retried
def return_record(*, actor: User, crew: Crew, worked: Worked, now: datetime) -> CrewReturn:
    """Record that a crew is back: on its outing's date or within a week after it.

    Raises `NotAllowed`, `Conflict` for a wrong day or a second return, `Invalid` naming fields.
    """
    with transaction.atomic():
        outing = lock_outing(crew.outing_id)
        _check_open(actor, crew, outing, now)
        _check(worked)
        row = _write(actor, crew, worked, now)
        audit_write(
            actor=actor,
            action="return.recorded",
            now=now,
            site=outing.site,
            target=f"crew:{crew.pk}",
            hours=str(worked.hours),
            people=worked.people,
            dogs=worked.dogs,
            incidents=worked.incidents,
            near_misses=worked.near_misses,
        )
    return row


def _check_open(actor: User, crew: Crew, outing: Outing, now: datetime) -> None:
    if not leads_crew(actor, crew):
        raise NotAllowed(_("The crew's lead or a safety officer of the site records this."))
    if outing.cancelled_at is not None:
        raise Conflict(_("This outing is cancelled."), code="outing-cancelled")
    day = return_day(outing.date, outing.site.local_date(now))
    if day is Day.AHEAD:
        message = _("This outing is on %(day)s: nobody can be back yet.") % {"day": date_format(outing.date)}
        raise Conflict(message, code="outing-ahead")
    if day is Day.OVER:
        raise Conflict(
            _("This outing was more than a week ago; ask the safety officer what to do with the figures."),
            code="outing-over",
        )
    if CrewReturn.objects.filter(crew=crew).exists():
        raise _back_already()


def _back_already() -> Conflict:
    return Conflict(
        _("This crew's return is recorded already. Look at it; if it is wrong, void it and record it again."),
        code="back-already",
    )


def _check(worked: Worked) -> None:
    """Raise `Invalid` for what can't be meant; nothing is corrected in silence."""
    wrong: dict[str, str] = {}
    if not 0 < worked.hours <= MOST_HOURS:
        wrong["hours"] = _("Give the hours of one person: more than 0, at most 24.")
    if not 1 <= worked.people <= MOST_PEOPLE:
        wrong["people"] = _("Give how many people worked, 1 to 200.")
    if not worked.sharps_note.strip():
        wrong["sharps_note"] = _("Say where the sharps went, or why they aren't disposed of.")
    known = set(worked.tallies) <= set(Task.values)
    if not known or any(not 0 <= dogs <= MOST_DOGS for dogs in [*worked.tallies.values(), worked.dogs]):
        wrong["dogs"] = _("Dogs are counted by the tasks listed, 0 to 100,000.")
    elif worked.dogs < max(worked.tallies.values(), default=0):
        wrong["dogs"] = _("At one task more dogs are counted than in all: each dog counts here once.")
    wrong |= _check_none(worked)
    if wrong:
        raise Invalid(wrong)


def _check_none(worked: Worked) -> dict[str, str]:
    if worked.incidents < 0 or worked.near_misses < 0:
        return {"incidents": _("Give whole numbers from 0.")}
    something = worked.incidents + worked.near_misses > 0
    if something and worked.none_said:
        return {"none_said": _("Something is counted and “none” is ticked: take one of them back.")}
    if not something and not worked.none_said:
        return {"none_said": _("Say how many, or tick that there was none: an empty answer isn't “none”.")}
    return {}


def _write(actor: User, crew: Crew, worked: Worked, now: datetime) -> CrewReturn:
    try:
        with transaction.atomic():
            row = CrewReturn.objects.create(
                crew=crew,
                hours=worked.hours,
                people=worked.people,
                dogs=worked.dogs,
                incidents=worked.incidents,
                near_misses=worked.near_misses,
                none_said=worked.none_said,
                sharps_disposed=worked.sharps_disposed,
                sharps_note=within(worked.sharps_note, CrewReturn, "sharps_note"),
                note=within(worked.note, CrewReturn, "note"),
                recorded_by=actor,
                recorded_at=now,
            )
    except IntegrityError as error:
        raise _back_already() from error
    ReturnTally.objects.bulk_create(
        ReturnTally(crew_return=row, task=task, dogs=dogs) for task, dogs in worked.tallies.items() if dogs
    )
    return row


def _lock_return(act: Voiding[CrewReturn]) -> None:
    """The crew lead voids while it could be recorded, a safety officer of the site at any time."""
    crew, outing = act.row.crew, act.row.crew.outing
    in_time = return_day(outing.date, outing.site.local_date(act.now)) is Day.OPEN
    if not has_role(act.actor, outing.site, OFFICER) and not (leads_crew(act.actor, crew) and in_time):
        raise NotAllowed(_("The crew's lead voids this within a week, a safety officer also later."))


RETURN_VOID = VoidRule(
    model=CrewReturn,
    action="return.voided",
    twice=gettext_lazy("This crew's return is voided already."),
    lock=_lock_return,
    about=lambda row: {"site": row.crew.outing.site, "target": f"crew:{row.crew_id}"},
    # Rates read the returns that stand when they are looked at.
    follow=lambda _act, _locked: None,
)


def return_void(*, actor: User, crew_return: CrewReturn, reason: str, now: datetime) -> None:
    """Take back a return recorded in error; its dogs and hours count nowhere from then on. Refuses as `void` does, and
    whom it isn't up to."""
    void(actor=actor, row=crew_return, reason=reason, now=now, rule=RETURN_VOID)
