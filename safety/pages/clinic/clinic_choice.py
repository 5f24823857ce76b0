"""The right clinic in words: where to go, why, what to say on the telephone, and the others in order."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from safety.models import Clinic, Incident
from safety.pages.clinic.clinic_words import clinic_catalogue, fill
from safety.rules.case.exposed_person import Known
from safety.rules.clinic.clinic_choice import Choice, Door, First, InStock, Judged
from safety.selectors.clinic.clinic_choice import (
    ClinicChoice,
    clinic_choice,
    clinic_choice_for,
    clinic_of_the_day,
)
from staff.models import Crew, Site

# Open for longer than this is told as "round the clock", not as a closing time days away.
ROUND_THE_CLOCK = timedelta(hours=24)


@dataclass(frozen=True)
class ClinicLine:
    """One clinic of the order. `geo` is a geo: link (RFC 5870), empty when its place isn't known."""

    clinic: Clinic
    distance: str
    door: str
    stock: str
    asked: str
    stale: bool
    geo: str


@dataclass(frozen=True)
class ClinicAdvice:
    """`first` is where to go; None: `none` says that no clinic of the list qualifies."""

    site: Site
    first: ClinicLine | None
    why: list[str]
    none: str
    others: list[ClinicLine]
    say: str

    @property
    def order(self) -> list[int]:
        """The ids of the clinics, the one to go to first."""
        first = [self.first] if self.first else []
        return [line.clinic.pk for line in first + self.others]


def clinic_advice(incident: Incident, now: datetime, *, by_record: bool) -> ClinicAdvice:
    """The advice for the person of a case; without the record for whoever may not know it."""
    found = clinic_choice_for(incident, now, by_record=by_record)
    choice, site = found.choice, incident.site
    first = choice.chosen
    return ClinicAdvice(
        site=site,
        first=_line(found, first, site) if first else None,
        why=why_words(choice, position_known=found.position_known, known=found.known),
        none="" if first else none_words(choice),
        others=[_line(found, one, site) for one in choice.order if one is not first],
        say=say_words(),
    )


def clinics_today(crew: Crew, now: datetime) -> list[ClinicLine]:
    """The clinics in the order to ring them, for a crew that doesn't know yet who may need one, or where."""
    site = crew.outing.site
    day = clinic_of_the_day(site, now, crew=crew)
    found = clinic_choice(site, here=None, now=now, immunoglobulin_wanted=True, of_the_day=day)
    return [_line(found, one, site) for one in found.choice.order]


def none_words(choice: Choice) -> str:
    """Why nobody is sent anywhere, and what to do then."""
    return _words("no_clinic" if choice.order else "no_clinics")


def say_words() -> str:
    """What to say on the telephone, one breath: the phone's page, which knows no record, says the same."""
    return _("“Possible rabies exposure. When can we come, and do you have vaccine and immunoglobulin?”")


def _words(code: str, **values: object) -> str:
    return fill(clinic_catalogue(get_language() or "")[code], values)


def why_words(choice: Choice, *, position_known: bool, known: Known) -> list[str]:
    """The reasons for the chosen one, one sentence each. The phone's `whyWords` has the same recipe."""
    one = choice.chosen
    if one is None:
        return []
    why = [_first_words(choice, one, position_known)]
    if one.vaccine is InStock.UNKNOWN:
        why.append(_words("why_vaccine_unknown"))
    if choice.immunoglobulin_wanted:
        why += _immunoglobulin_words(choice, one)
        if known is Known.UNKNOWN:
            why.append(_words("why_record_unknown"))
    if one.stale:
        why.append(_words("why_stale"))
    return why


def _first_words(choice: Choice, one: Judged, position_known: bool) -> str:
    if choice.first is First.OF_THE_DAY:
        return _words("why_of_the_day")
    if one.fact.metres is None:
        return _words("why_unplaced" if position_known else "why_no_place")
    if choice.first is First.IMMUNOGLOBULIN:
        return _words("why_immunoglobulin", minutes=math.ceil(choice.farther / timedelta(minutes=1)))
    return _words("why_nearest")


def _immunoglobulin_words(choice: Choice, one: Judged) -> list[str]:
    if not one.lacks_immunoglobulin:
        said_already = choice.first is First.IMMUNOGLOBULIN and one.fact.metres is not None
        return [] if said_already else [_words("why_has_immunoglobulin")]
    if choice.elsewhere is None:
        return [_words("why_immunoglobulin_nowhere")]
    return [_words("why_immunoglobulin_elsewhere", name=choice.elsewhere.fact.name)]


def _line(found: ClinicChoice, one: Judged, site: Site) -> ClinicLine:
    clinic = found.clinic_of(one)
    return ClinicLine(
        clinic=clinic,
        distance=distance_words(one.fact.metres),
        door=door_words(one, site.zone),
        stock=stock_words(one),
        asked=asked_words(one.days_since_asked),
        stale=one.stale,
        geo=geo_link(clinic),
    )


def distance_words(metres: int | None) -> str:
    if metres is None:
        return _words("distance_not_known")
    return _words("distance", km=(metres + 500) // 1000) if metres >= 1000 else _words("distance_near")


def door_words(one: Judged, zone: ZoneInfo) -> str:
    """What the door is on arrival, in the site's time."""
    if one.door is Door.HOURS_UNKNOWN:
        return _words("hours_unknown")
    if one.closes_at is not None:
        if one.closes_at - one.arrival >= ROUND_THE_CLOCK:
            return _words("open_long")
        return _words("open_on_arrival", time=_at(one.closes_at, one.arrival, zone))
    if one.opens_at is not None:
        return _words("closed_until", time=_at(one.opens_at, one.arrival, zone))
    return _words("closed")


def _at(instant: datetime, from_: datetime, zone: ZoneInfo) -> str:
    """The time of day, with the day where it isn't that of `from_`."""
    local = instant.astimezone(zone)
    clock = f"{local.hour:02d}:{local.minute:02d}"
    if local.date() == from_.astimezone(zone).date():
        return clock
    return _words(
        "day_clock",
        weekday=_words("weekdays").split("|")[local.weekday()],
        day=local.day,
        month=_words("months").split("|")[local.month - 1],
        clock=clock,
    )


def stock_words(one: Judged) -> str:
    """What it has, an old yes told as old."""
    said = {
        "vaccine": (one.fact.vaccine, one.vaccine),
        "immunoglobulin": (one.fact.immunoglobulin, one.immunoglobulin),
    }
    return "; ".join(
        _words(f"{name}_{known if known is told else 'old'}") for name, (told, known) in said.items()
    )


def asked_words(days: int | None) -> str:
    if days is None:
        return _words("never_asked")
    if days <= 1:
        return _words("asked_yesterday" if days == 1 else "asked_today")
    return _words("asked", days=days)


def geo_link(clinic: Clinic) -> str:
    if clinic.latitude is None or clinic.longitude is None:
        return ""
    return f"geo:{clinic.latitude:.5f},{clinic.longitude:.5f}"
