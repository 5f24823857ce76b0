"""What a course has to pass before it runs: a regimen approved and fitting, or a name and dates of the clinic's."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.utils.translation import gettext as _

from safety.errors import Invalid, Unconfirmed
from safety.letter.facts import letter_facts
from safety.letter.record import record_section
from safety.models import Course, Incident
from safety.rules.case.answer_doubts import regimen_disagrees
from safety.rules.course.free_dates import MOST_DATES, check_dates
from safety.selectors.course.course_regimens import course_regimens
from staff.ground.limits import within
from staff.ground.purposes import Purpose
from staff.models import Regimen
from staff.rules.regimen.values import RuleError


def need_approved(incident: Incident, regimen: Regimen) -> None:
    if not course_regimens(incident).filter(pk=regimen.pk).exists():
        raise Invalid({"regimen": _("This regimen isn't approved for post-exposure use at this site.")})


def regimen_named(incident: Incident, code: str, version: int | None) -> Regimen:
    """By its code, the newest approved version or the one asked for; raises `Invalid` with those that may be named."""
    usable = course_regimens(incident)
    wanted = usable.filter(code=code) if version is None else usable.filter(code=code, version=version)
    regimen = wanted.order_by("-version").first()
    if regimen is None:
        known = ", ".join(f"{row.code} (version {row.version})" for row in usable)
        words = _("Give a post-exposure regimen approved at this site: %(known)s.") % {"known": known}
        raise Invalid({"regimen": words})
    return regimen


def regimen_doubt(incident: Incident, regimen: Regimen, now: datetime) -> str:
    """A sentence when the table has the regimen for somebody else than the record shows; empty when it fits."""
    facts = letter_facts(incident, None, now)
    purpose = Purpose(regimen.purpose)
    if not regimen_disagrees(facts.status, purpose=purpose, for_whom=regimen.for_whom):
        return ""
    return _("The table has this regimen for: %(whom)s. The record says otherwise: %(record)s") % {
        "whom": regimen.get_for_whom_display(),
        "record": record_section(facts).notes[0],
    }


def need_word(doubt: str, field: str, *, confirmed: bool) -> None:
    """Raises `Unconfirmed`, naming `field`, for a doubt that nobody has confirmed from the clinic's paper."""
    if doubt and not confirmed:
        look = _("Look at the clinic's paper again, or ring the clinic. If it says so, tick this.")
        raise Unconfirmed({field: doubt, "confirmed": look})


def need_name(regimen_name: str) -> str:
    if not regimen_name.strip():
        raise Invalid({"regimen_name": _("Write down what the clinician calls the regimen.")})
    return within(regimen_name, Course, "regimen_name")


def need_dates(incident: Incident, dates: Sequence[date]) -> list[date]:
    """The clinic's dates; raises `Invalid`, naming the field "dates", with a sentence for each fault."""
    try:
        check_dates(dates, not_before=incident.site.local_date(incident.happened_at))
    except RuleError as error:
        words = {
            "none": _("Write down at least one date the clinic gave."),
            "too-many": _("More than %(n)d dates are no course; check them.") % {"n": MOST_DATES},
            "before": _("A date lies before the incident; check the dates."),
            "far": _("A date lies over a year after the incident; check the year."),
            "order": _("The dates must be in order, each later than the one before; check them."),
        }
        raise Invalid({"dates": words[error.code]}) from error
    return list(dates)
