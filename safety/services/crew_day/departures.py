"""Before a crew leaves: who is there, what is missing, and who takes an absent person's place on the spot."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.errors import Conflict, Invalid, NotAllowed
from safety.models import Clinic, Departure, DeparturePerson, Stock
from safety.notices.outing.left_without import DEPARTURES
from safety.rules.crew_day.outing_day import Day, leaving_day
from safety.selectors.crew_day.outing_day import (
    absent_of,
    departure_of,
    leads_crew,
    missing_of,
    without_words,
)
from safety.services.clinic.clinics import clinic_confirm
from safety.services.crew_day.crew_roll import (
    Roll,
    crew_catch_up,
    roll_apply,
    roll_check,
    roll_lock,
    roll_need_clear,
    roll_rows,
)
from safety.services.notices.notices import notices_bring, notices_tell
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import Assignment, Crew, Outing, User
from staff.rules.outing.crew_shape import missing_from
from staff.selectors.access import OFFICER, has_role
from staff.selectors.outing.kit import crew_ticks, kit_missing
from staff.selectors.outing.roster import outing_shape
from staff.services.audit import audit_write
from staff.services.outing.crews import crew_left_set
from staff.services.voiding import Voiding, VoidRule, void


@dataclass(frozen=True)
class Answers:
    """`clinic_open`: the clinic was telephoned today and is open; `vaccine` and `immunoglobulin` are its answers.
    What isn't known to be in stock is gone without: a reason, and the officers are told."""

    helmets: bool
    clothing: bool
    kit: bool
    briefing: bool
    clinic: Clinic | None = None
    clinic_open: bool = False
    vaccine: str = Stock.UNKNOWN
    immunoglobulin: str = Stock.UNKNOWN
    missing_reason: str = ""


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
        _check_clinic(outing, answers)
        _check_kit(crew, answers)
        roll_apply(actor=actor, outing=outing, crew=crew, before=before, roll=roll, now=now)
        departure = _write(_facts(actor, outing, crew, answers, now), before, roll)
        crew_left_set(crew=crew, left_at=now)
        _clinic_list_update(actor, departure, now)
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


def _check_kit(crew: Crew, answers: Answers) -> None:
    """A list that was ticked on the phone must be ticked whole; one kept on paper is answered for by the lead alone."""
    if answers.kit and crew_ticks(crew).exists() and (unticked := kit_missing(crew)):
        words = _("On the crew's list these aren't ticked: %(items)s. Tick them, or answer no and say why.")
        raise Invalid({"kit": words % {"items": ", ".join(unticked)}})


def _left_already() -> Conflict:
    return Conflict(
        _(
            "This crew's leaving is recorded already. Look at it; if it is wrong, void it and record it again."
        ),
        code="left-already",
    )


def _check_clinic(outing: Outing, answers: Answers) -> None:
    clinic = answers.clinic
    if clinic is None and answers.clinic_open:
        raise Invalid({"clinic": _("Say which clinic was telephoned.")})
    if clinic is not None and (clinic.site_id != outing.site_id or not clinic.active):
        raise Invalid({"clinic": _("Choose a clinic that is in use at this site.")})
    for name, value in (("vaccine", answers.vaccine), ("immunoglobulin", answers.immunoglobulin)):
        if value not in Stock.values:
            raise Invalid({name: _("Choose one of the answers.")})


def _facts(actor: User, outing: Outing, crew: Crew, answers: Answers, now: datetime) -> Departure:
    """The departure as its facts are, not saved; the roster is as it leaves."""
    roles = list(crew.assignments.values_list("role", flat=True))
    told = answers.clinic is not None
    return Departure(
        crew=crew,
        date=outing.date,
        helmets=answers.helmets,
        clothing=answers.clothing,
        kit=answers.kit,
        briefing=answers.briefing,
        clinic=answers.clinic,
        clinic_open=answers.clinic_open,
        vaccine=answers.vaccine if told else Stock.UNKNOWN,
        immunoglobulin=answers.immunoglobulin if told else Stock.UNKNOWN,
        roles_missing=missing_from(outing_shape(outing), roles),
        missing_reason=within(answers.missing_reason, Departure, "missing_reason"),
        recorded_by=actor,
        recorded_at=now,
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


def _clinic_list_update(actor: User, departure: Departure, now: datetime) -> None:
    """What the clinic said on the telephone goes to the clinic list; what it wasn't asked or didn't know leaves the list
    as it is, and confirms nothing there."""
    clinic, unknown = departure.clinic, Stock.UNKNOWN
    if clinic is None or unknown in (departure.vaccine, departure.immunoglobulin):
        return
    clinic_confirm(
        actor=actor,
        clinic=clinic,
        vaccine=departure.vaccine,
        immunoglobulin=departure.immunoglobulin,
        now=now,
    )


def _lock_departure(act: Voiding[Departure]) -> None:
    """The crew lead voids on the day, a safety officer of the site on any."""
    crew, outing = act.row.crew, act.row.crew.outing
    on_the_day = outing.site.local_date(act.now) == act.row.date
    if not has_role(act.actor, outing.site, OFFICER) and not (leads_crew(act.actor, crew) and on_the_day):
        raise NotAllowed(_("The crew's lead voids this on the day itself, a safety officer also later."))
    Outing.objects.select_for_update(no_key=True).get(pk=outing.pk)


def _crew_stays(act: Voiding[Departure], _locked: None) -> None:
    crew_left_set(crew=act.row.crew, left_at=None)
    notices_bring(origin=DEPARTURES, subject=act.row, now=act.now)


DEPARTURE_VOID = VoidRule(
    model=Departure,
    action="departure.voided",
    twice=gettext_lazy("This crew's leaving is voided already."),
    lock=_lock_departure,
    about=lambda row: {"site": row.crew.outing.site, "target": f"crew:{row.crew_id}"},
    follow=_crew_stays,
)


def departure_void(*, actor: User, departure: Departure, reason: str, now: datetime) -> None:
    """Take back a departure recorded in error. The roster stays as it is; the officers' notice goes if it hasn't left.
    From then on the outing may be moved and its places filled again. Refuses as `void` does, and whom it isn't up to.
    """
    void(actor=actor, row=departure, reason=reason, now=now, rule=DEPARTURE_VOID)
