"""What a crew lead answers before leaving, what must hold of it, and what it comes to in the row."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from safety.errors import Invalid
from safety.models import Clinic, Departure, Stock
from safety.services.clinic.clinics import clinic_confirm
from staff.ground.limits import within
from staff.models import Crew, Outing, User
from staff.rules.outing.crew_shape import missing_from
from staff.selectors.outing.kit import crew_ticks, kit_missing
from staff.selectors.outing.roster import outing_shape


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


def check_kit(crew: Crew, answers: Answers) -> None:
    """A list that was ticked on the phone must be ticked whole; one kept on paper is answered for by the lead alone."""
    if answers.kit and crew_ticks(crew).exists() and (unticked := kit_missing(crew)):
        words = _("On the crew's list these aren't ticked: %(items)s. Tick them, or answer no and say why.")
        raise Invalid({"kit": words % {"items": ", ".join(unticked)}})


def check_clinic(outing: Outing, answers: Answers) -> None:
    clinic = answers.clinic
    if clinic is None and answers.clinic_open:
        raise Invalid({"clinic": _("Say which clinic was telephoned.")})
    if clinic is not None and (clinic.site_id != outing.site_id or not clinic.active):
        raise Invalid({"clinic": _("Choose a clinic that is in use at this site.")})
    for name, value in (("vaccine", answers.vaccine), ("immunoglobulin", answers.immunoglobulin)):
        if value not in Stock.values:
            raise Invalid({name: _("Choose one of the answers.")})


def departure_facts(actor: User, outing: Outing, crew: Crew, answers: Answers, now: datetime) -> Departure:
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


def clinic_list_update(actor: User, departure: Departure, now: datetime) -> None:
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
