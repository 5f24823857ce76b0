"""Which clinic of a site to go to now, and when each is open."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from safety.models import Clinic, Departure, Incident
from safety.places.hours import open_spans
from safety.rules.case.exposed_person import Known, immunoglobulin_may_be_asked, known_of
from safety.rules.clinic.clinic_choice import (
    Choice,
    ClinicFact,
    ClinicRules,
    InStock,
    Judged,
    Position,
    Span,
    choose_clinic,
    metres_between,
)
from safety.selectors.case.cases import needs_clinic, suggestion_of
from safety.selectors.clinic.clinics import clinics_of
from staff.models import Crew, Person, Site
from staff.selectors.record.immunisation import immunisation_before

# How far ahead open times are worked out: what a phone without network may need.
AHEAD = timedelta(days=14)


@dataclass(frozen=True)
class ClinicChoice:
    """The choice with the rows it was made from, by the clinic's id."""

    choice: Choice
    clinics: dict[int, Clinic]
    position_known: bool
    known: Known

    def clinic_of(self, one: Judged) -> Clinic:
        return self.clinics[one.fact.key]


def holidays_around(site: Site, start: datetime, end: datetime) -> list[date]:
    """The site's holidays between two instants, with a day to spare on either side."""
    days = (site.local_date(start) - timedelta(days=1), site.local_date(end) + timedelta(days=1))
    return list(site.holidays.filter(date__range=days).values_list("date", flat=True))


def open_times(
    clinic: Clinic, site: Site, *, holidays: Iterable[date], start: datetime, end: datetime
) -> list[Span] | None:
    """When the clinic is open between two instants; None when its hours aren't known."""
    return open_spans(clinic.hours, zone=site.zone, holidays=holidays, start=start, end=end)


def position_of(thing: Clinic | Incident) -> Position | None:
    if thing.latitude is None or thing.longitude is None:
        return None
    return Position(thing.latitude, thing.longitude)


def clinic_choice(
    site: Site,
    *,
    here: Position | None,
    now: datetime,
    immunoglobulin_wanted: bool,
    known: Known = Known.UNKNOWN,
    of_the_day: int | None = None,
) -> ClinicChoice:
    """The clinics of `site` in the order to try them, for somebody at `here` who sets out `now`.

    `known` is what the reader may know of the record; `of_the_day` the clinic the crew's lead chose for today.
    """
    end = now + AHEAD
    holidays = holidays_around(site, now, end)
    clinics = {clinic.pk: clinic for clinic in clinics_of(site)}
    facts = [
        _fact(clinic, here, open_times(clinic, site, holidays=holidays, start=now, end=end))
        for clinic in clinics.values()
    ]
    choice = choose_clinic(
        clinics=facts,
        now=now,
        today=site.local_date(now),
        rules=clinic_rules(site),
        immunoglobulin_wanted=immunoglobulin_wanted,
        open_until=end,
        of_the_day=of_the_day,
    )
    return ClinicChoice(choice, clinics, position_known=here is not None, known=known)


def clinic_rules(site: Site) -> ClinicRules:
    """The site's figures for choosing a clinic."""
    return ClinicRules(
        travel_kmh=site.rules.travel_kmh,
        news_days=site.rules.clinic_news_days,
        of_the_day=timedelta(minutes=site.rules.clinic_of_day_minutes),
        immunoglobulin=timedelta(minutes=site.rules.immunoglobulin_minutes),
    )


def clinic_of_the_day(
    site: Site, now: datetime, *, person: Person | None = None, crew: Crew | None = None
) -> int | None:
    """The clinic (id) that the lead of the crew rang before it left today and found open, if there was one.

    Of a person: of the crew they left with, though whoever is bitten comes off the roster.
    """
    rows = Departure.objects.filter(date=site.local_date(now), clinic_open=True, clinic__site=site)
    mine = rows.filter(crew=crew) if crew else rows.filter(people__person=person, people__present=True)
    return mine.order_by("recorded_at").values_list("clinic", flat=True).last()


def clinic_choice_for(incident: Incident, now: datetime, *, by_record: bool) -> ClinicChoice:
    """The choice for the person of a case, from the place of the report if it was added.

    `by_record` False for a reader who may not know the person's doses: whoever may need immunoglobulin is assumed to.
    """
    known = _known(incident) if by_record else Known.UNKNOWN
    return clinic_choice(
        incident.site,
        here=position_of(incident),
        now=now,
        immunoglobulin_wanted=immunoglobulin_may_be_asked(
            category=suggestion_of(incident).category, exposed=needs_clinic(incident), known=known
        ),
        known=known,
        of_the_day=clinic_of_the_day(incident.site, now, person=incident.person),
    )


def _known(incident: Incident) -> Known:
    record = immunisation_before(incident.person, incident.site.local_date(incident.happened_at))
    return known_of(complete_on=record.complete_on, immunocompromised=record.immunocompromised)


def _fact(clinic: Clinic, here: Position | None, spans: list[Span] | None) -> ClinicFact:
    there = position_of(clinic)
    return ClinicFact(
        key=clinic.pk,
        name=clinic.name,
        metres=metres_between(here, there) if here and there else None,
        open=spans,
        vaccine=InStock(clinic.vaccine),
        immunoglobulin=InStock(clinic.immunoglobulin),
        confirmed_on=clinic.confirmed_on,
    )
