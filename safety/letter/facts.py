"""Everything a letter reads from the database, fetched once however often the page is tried."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from safety.models import Clinic, Incident
from safety.rules.case.exposed_person import ImmuneStatus, immune_status, purposes_listed
from safety.selectors.case.cases import needs_clinic
from staff.models import Dose, Regimen, SiteRole, Titre, User
from staff.selectors.record.immunisation import Immunisation, immunisation_before
from staff.selectors.regimen.regimens import approved_at


@dataclass(frozen=True)
class LetterFacts:
    """`regimens` None: none may be listed, as tables disagree or nothing is an exposure (`exposed` False)."""

    incident: Incident
    clinic: Clinic | None
    liaison: User | None
    doses: tuple[Dose, ...]
    titre: Titre | None
    record: Immunisation
    status: ImmuneStatus
    exposed: bool
    regimens: tuple[Regimen, ...] | None
    now: datetime


def letter_facts(incident: Incident, clinic: Clinic | None, now: datetime) -> LetterFacts:
    """Voided doses and titres and an unproven titre stay out: the letter holds what the record stands by."""
    person, exposed_on = incident.person, incident.site.local_date(incident.happened_at)
    record = immunisation_before(person, exposed_on)
    status = immune_status(
        complete_on=record.complete_on,
        doses=record.doses,
        immunocompromised=record.immunocompromised,
        exposed_on=exposed_on,
    )
    exposed = needs_clinic(incident)
    return LetterFacts(
        incident=incident,
        clinic=clinic,
        liaison=_liaison_of(incident),
        doses=tuple(person.doses.select_related("standing")),
        titre=next((titre for titre in person.titres.order_by("-taken_on") if titre.counts), None),
        record=record,
        status=status,
        exposed=exposed,
        regimens=_regimens(incident, status, exposed=exposed),
        now=now,
    )


def _liaison_of(incident: Incident) -> User | None:
    roles = SiteRole.objects.filter(site=incident.site, role=SiteRole.Role.LIAISON)
    first = roles.select_related("user__person").order_by("pk").first()
    return first.user if first else None


def _regimens(incident: Incident, status: ImmuneStatus, *, exposed: bool) -> tuple[Regimen, ...] | None:
    purposes = purposes_listed(status, exposed=exposed)
    if not purposes:
        return None
    fitting = {Regimen.ForWhom.ANYONE.value, status.value}
    rows = approved_at(incident.site, *purposes).filter(for_whom__in=fitting)
    return tuple(rows.distinct().order_by("code", "version"))
