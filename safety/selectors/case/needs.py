"""What a case needs at an instant: the one answer that pages, desk, banner, notices, closing and API read."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from safety.models import Decision, Incident, Visit
from safety.rules.animal.observation import Watch
from safety.rules.case.immunoglobulin import last_day_for
from safety.rules.case.needs import Asked, NeedCode, clinic_asks, visit_asked
from safety.selectors.animal.observation import asks_of, state_of
from safety.selectors.case.case_facts import (
    clinic_facts,
    course_short,
    first_dose_on,
    immunoglobulin_missing,
    observation_standing,
    seen_facts,
)
from safety.selectors.case.cases import needs_clinic, washing_of
from safety.selectors.case.need import Need, day_words
from safety.selectors.case.need_words import VARIANTS, sentence
from safety.selectors.course.course_needs import course_needs
from safety.selectors.course.course_titre import titre_asked, titre_missing
from staff.models import Site

_ORDER = {code: place for place, code in enumerate(NeedCode)}


def needs_of(incident: Incident, now: datetime) -> tuple[Need, ...]:
    """Everything the case needs at `now`, most urgent first; derived from the rows, never stored.

    Of a closed case only what its animal still asks.
    """
    found = [*_animal(incident, now)]
    if incident.is_open:
        found += [*_washing(incident, now), *_asked(incident, now), *_immunoglobulin(incident, now)]
        for course in incident.courses.all():
            if course.ended_on is None:
                found += course_needs(course, now)
        found += [*_details(incident, now)]
        found = found or [Need(NeedCode.CLOSE, sentence(NeedCode.CLOSE), None, late=False)]
    return tuple(sorted(found, key=lambda need: (_ORDER[need.code], need.due_on or date.max)))


def case_asks(incident: Incident) -> tuple[Asked, ...]:
    """What an open case lacks whatever the day: the clinic's side, a course fallen short, a titre."""
    return (*_clinic(incident), *_short(incident), *titre_asked(incident)) if incident.is_open else ()


def _clinic(incident: Incident) -> Iterator[Asked]:
    if needs_clinic(incident):
        yield from clinic_asks(clinic_facts(incident))


def _short(incident: Incident) -> Iterator[Asked]:
    course = course_short(incident)
    if course is not None and course.ended_on is not None:
        yield Asked(NeedCode.RESUME, course.ended_on, course.ended_on)


def _asked(incident: Incident, now: datetime) -> Iterator[Need]:
    today = incident.site.local_date(now)
    for each in case_asks(incident):
        window = titre_missing(incident) if each.code is NeedCode.TITRE else None
        facts = {"first": day_words(window.first_on), "last": day_words(window.last_on)} if window else {}
        words = sentence(each.code, each.variant, **facts)
        yield Need(each.code, words, each.due_on, today >= each.late_from)


def _washing(incident: Incident, now: datetime) -> Iterator[Need]:
    if needs_clinic(incident):
        state = washing_of(incident, now).state
        if (NeedCode.WASH, state.value) in VARIANTS:
            yield Need(NeedCode.WASH, sentence(NeedCode.WASH, state.value), None, late=False)


def _immunoglobulin(incident: Incident, now: datetime) -> Iterator[Need]:
    if not needs_clinic(incident) or immunoglobulin_missing(incident) is None:
        return
    last_day = last_day_for(first_dose_on(incident))
    if last_day is None or last_day >= incident.site.local_date(now):
        yield Need(NeedCode.IMMUNOGLOBULIN, sentence(NeedCode.IMMUNOGLOBULIN), last_day, late=False)


def _details(incident: Incident, now: datetime) -> Iterator[Need]:
    if incident.details_at is None:
        site = incident.site
        happened = site.local_date(incident.happened_at)
        late = happened < site.local_date(now)
        yield Need(NeedCode.DETAILS, sentence(NeedCode.DETAILS), happened, late)


def _animal(incident: Incident, now: datetime) -> Iterator[Need]:
    observation = observation_standing(incident)
    if observation is None:
        return
    today = incident.site.local_date(now)
    asks = asks_of(observation, today)
    for ask in asks:
        yield Need(NeedCode(f"animal-{ask.code}"), ask.words, ask.due_on, ask.overdue)
    if not asks and state_of(observation, today) is Watch.WATCHING:
        yield Need(NeedCode.ANIMAL_WATCH, sentence(NeedCode.ANIMAL_WATCH), observation.last_on, late=False)


def with_needs(incidents: QuerySet[Incident]) -> QuerySet[Incident]:
    """With everything their needs are derived from, in a number of queries that doesn't grow."""
    return incidents.select_related("site__rules", "person__user").prefetch_related(
        "wounds",
        "wash_spells",
        "referrals",
        "visits",
        "courses__planned_doses",
        "courses__regimen__steps",
        "person__titres",
        "observations__checks",
        "observations__outcomes",
    )


def cases_wanting_visit(sites: QuerySet[Site]) -> list[tuple[Incident, Asked]]:
    """Open cases at `sites` that wait for a clinic visit, with that need: three queries however many there are."""
    visits = Visit.objects.filter(incident=OuterRef("pk"))
    # A superset, for reading few rows; which of them wait, the rule says.
    may_wait = (
        Q(~Exists(visits))
        | Q(late_report_at__isnull=False)
        | Q(moved_at__isnull=False)
        | Q(Exists(visits.filter(decision=Decision.REFERRED_ON)))
    )
    rows = Incident.objects.filter(may_wait, closed_at__isnull=True, site__in=sites)
    found = []
    for incident in rows.select_related("site").prefetch_related("wounds", "visits"):
        asked = visit_asked(seen_facts(incident)) if needs_clinic(incident) else None
        if asked is not None:
            found.append((incident, asked))
    return found
