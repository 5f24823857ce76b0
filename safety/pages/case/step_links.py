"""The page on which each need of a case is met."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.urls import reverse

from safety.models import Decision, Incident
from safety.rules.case.needs import NeedCode, need_every
from safety.selectors.case.case_facts import course_short, immunoglobulin_missing
from safety.selectors.case.need import Need
from staff.models import User

Address = Callable[[Incident, Need], str]


def _in_case(name: str, anchor: str = "") -> Address:
    """An address that takes the case's reference."""
    return lambda incident, _need: reverse(name, args=[incident.reference]) + anchor


def _in_course(name: str) -> Address:
    """An address that takes the number of the course the need is about."""
    return lambda _incident, need: reverse(name, args=[need.course])


def _nowhere(_incident: Incident, _need: Need) -> str:
    return ""


def _titre(incident: Incident, _need: Need) -> str:
    return reverse("titre-add", args=[incident.person_id])


def _immunoglobulin(incident: Incident, _need: Need) -> str:
    seen = immunoglobulin_missing(incident)
    return reverse("case-immunoglobulin", args=[incident.reference, seen.pk]) if seen else ""


def _resume(incident: Incident, _need: Need) -> str:
    ended = course_short(incident)
    return reverse("course-resume", args=[ended.pk]) if ended else ""


def _decision(incident: Incident, _need: Need) -> str:
    pending = [visit for visit in incident.visits.all() if visit.decision == Decision.PENDING]
    return reverse("case-decision", args=[incident.reference, pending[-1].pk]) if pending else ""


PAGES: Mapping[NeedCode, Address] = {
    NeedCode.WASH: _in_case("case", "#washing"),
    NeedCode.REFERRAL: _in_case("case-referral"),
    NeedCode.VISIT: _in_case("case-visit"),
    NeedCode.DECISION: _decision,
    NeedCode.COURSE: _in_case("case-course"),
    NeedCode.IMMUNOGLOBULIN: _immunoglobulin,
    NeedCode.DATES_DIFFER: _nowhere,
    NeedCode.DOSE: _in_course("course-dose"),
    NeedCode.PLAN: _nowhere,
    NeedCode.UNDATED: _in_course("course-dates"),
    NeedCode.COMPLETE: _in_course("course-end"),
    NeedCode.RESUME: _resume,
    NeedCode.UNLISTED: _in_case("case"),
    NeedCode.TITRE: _titre,
    NeedCode.DETAILS: _nowhere,
    NeedCode.ANIMAL_LAST_DAY: _in_case("animal-outcome"),
    NeedCode.ANIMAL_CHECK_MISSING: _in_case("animal-check"),
    NeedCode.ANIMAL_CHECK_TODAY: _in_case("animal-check"),
    NeedCode.ANIMAL_LABORATORY: _in_case("animal-outcome"),
    NeedCode.ANIMAL_WATCH: _nowhere,
    NeedCode.CLOSE: _in_case("case-close"),
}
need_every(PAGES, "PAGES")
# Nobody does these in a case of their own: see staff.services.record.own_record.
SOMEBODY_ELSES = frozenset({NeedCode.VISIT, NeedCode.DOSE, NeedCode.TITRE, NeedCode.IMMUNOGLOBULIN})


def need_url(incident: Incident, need: Need, user: User) -> str:
    """Empty where the need has no page of its own, or is another's to meet."""
    if need.code in SOMEBODY_ELSES and incident.person.user_id == user.pk:
        return ""
    return PAGES[need.code](incident, need)
