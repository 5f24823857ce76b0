"""The right clinic in words: where to go, why, what to say on the telephone, and the others in order."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from safety.models import Clinic, Incident, Stock
from safety.rules.clinic_choice import Choice, Door, Judged
from safety.selectors.clinic_choice import ClinicChoice, clinic_choice, clinic_choice_for
from staff.models import Site

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
        why=_why(found, first) if first else [],
        none="" if first else none_words(choice),
        others=[_line(found, one, site) for one in choice.order if one is not first],
        say=say_words(),
    )


def clinics_today(site: Site, now: datetime) -> list[ClinicLine]:
    """The site's clinics in the order to ring them, for a crew that doesn't know yet who may need one, or where."""
    found = clinic_choice(site, here=None, now=now, immunoglobulin_wanted=True)
    return [_line(found, one, site) for one in found.choice.order]


def none_words(choice: Choice) -> str:
    """Why nobody is sent anywhere, and what to do then."""
    if not choice.order:
        return _(
            "This site's list holds no clinic: call the emergency number and ask for the nearest one with "
            "rabies vaccine."
        )
    return _(
        "No clinic of the list is known to be open when you get there and to have vaccine. Call the emergency "
        "number and the health authority now, and ring the clinics below; don't wait for one to open."
    )


def say_words() -> str:
    """What to say on the telephone, one breath: the phone's page, which knows no record, says the same."""
    return _("“Possible rabies exposure. When can we come, and do you have vaccine and immunoglobulin?”")


def _why(found: ClinicChoice, one: Judged) -> list[str]:
    """The reasons for the first of the order, one sentence each."""
    why = []
    if one.fact.metres is not None:
        why.append(_("The nearest of the list that is open when you get there and may have what you need."))
    elif found.position_known:
        why.append(_("It is open now. How far it is isn't known: its place isn't on the list."))
    else:
        why.append(
            _(
                "It is open now. Distances aren't known, since the report carries no place: ask somebody who knows the area."
            )
        )
    if one.fact.vaccine.value == Stock.UNKNOWN:
        why.append(_("Nobody knows whether it has vaccine, and no clinic that has it is open: ring first."))
    if found.choice.immunoglobulin_wanted:
        why.append(
            _("The clinician may ask for immunoglobulin, and no clinic that is open is known to have it.")
            if one.lacks_immunoglobulin
            else _("The clinician may ask for immunoglobulin; it is known to have some.")
        )
    if one.stale:
        why.append(_("What it has in stock was last asked too long ago to rely on: ring before you go."))
    return why


def _line(found: ClinicChoice, one: Judged, site: Site) -> ClinicLine:
    clinic = found.clinic_of(one)
    return ClinicLine(
        clinic=clinic,
        distance=distance_words(one.fact.metres),
        door=door_words(one, site),
        stock=stock_words(clinic),
        asked=asked_words(one.days_since_asked),
        stale=one.stale,
        geo=geo_link(clinic),
    )


def distance_words(metres: float | None) -> str:
    if metres is None:
        return _("distance not known")
    if metres < 1000:
        return _("under 1 km in a straight line")
    return _("%(km)s km in a straight line") % {"km": round(metres / 1000)}


def door_words(one: Judged, site: Site) -> str:
    """What the door is on arrival, in the site's time."""
    if one.door is Door.HOURS_UNKNOWN:
        return _("opening hours not known: ring")
    if one.closes_at is not None:
        if one.closes_at - one.arrival >= ROUND_THE_CLOCK:
            return _("open round the clock")
        return _("open until %(at)s") % {"at": _at(one.closes_at, one.arrival, site)}
    if one.opens_at is not None:
        return _("closed when you get there; opens %(at)s") % {"at": _at(one.opens_at, one.arrival, site)}
    return _("closed for the next two weeks")


def _at(instant: datetime, from_: datetime, site: Site) -> str:
    local = instant.astimezone(site.zone)
    clock = time_format(local, "H:i")
    if local.date() == site.local_date(from_):
        return clock
    return f"{date_format(local, 'D j M')} {clock}"


def stock_words(clinic: Clinic) -> str:
    return _("vaccine: %(vaccine)s; immunoglobulin: %(immunoglobulin)s") % {
        "vaccine": clinic.get_vaccine_display(),
        "immunoglobulin": clinic.get_immunoglobulin_display(),
    }


def asked_words(days: int | None) -> str:
    if days is None:
        return _("never asked")
    if days <= 0:
        return _("asked today")
    return ngettext("asked %(days)d day ago", "asked %(days)d days ago", days) % {"days": days}


def geo_link(clinic: Clinic) -> str:
    if clinic.latitude is None or clinic.longitude is None:
        return ""
    return f"geo:{clinic.latitude:.5f},{clinic.longitude:.5f}"
