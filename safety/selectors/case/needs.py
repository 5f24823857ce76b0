"""What a case needs at an instant: the one answer that pages, desk, banner, notices, closing and API read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.formats import date_format

from safety.models import Course, Decision, Incident, PlannedDose, Visit
from safety.rules.animal.observation import Watch
from safety.rules.case.answer_doubts import date_disagrees
from safety.rules.case.immunoglobulin import last_day_for
from safety.rules.case.needs import NEEDS, Asked, Bar, NeedCode, NeedRow, clinic_asks, visit_asked
from safety.rules.course.dose_due import DoseDue, dose_due, overdue_from
from safety.rules.notices.follow_up import Audience
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
from safety.selectors.case.need_words import VARIANTS, sentence
from safety.selectors.course.course_titre import titre_missing
from staff.models import Site


@dataclass(frozen=True)
class Need:
    """One thing a case needs: a code, a sentence, the date it is due, and whether that has passed.

    `course` is the key of the course it is done in and `number` the dose, where it is about one.
    """

    code: NeedCode
    words: str
    due_on: date | None
    late: bool
    course: int | None = None
    number: int | None = None

    @property
    def row(self) -> NeedRow:
        return NEEDS[self.code]

    @property
    def for_whom(self) -> frozenset[Audience]:
        return self.row.for_whom

    @property
    def bars(self) -> Bar | None:
        return self.row.bars


_ORDER = {code: place for place, code in enumerate(NeedCode)}


def needs_of(incident: Incident, now: datetime) -> tuple[Need, ...]:
    """Everything the case needs at `now`, most urgent first; derived from the rows, never stored.

    Of a closed case only what a laboratory still has to say.
    """
    found = [*_animal(incident, now)]
    if incident.is_open:
        found += [*_washing(incident, now), *_asked(incident, now), *_immunoglobulin(incident, now)]
        for course in incident.courses.all():
            if course.ended_on is None:
                found += _course(course, now)
        found += [*_details(incident, now)]
        found = found or [Need(NeedCode.CLOSE, sentence(NeedCode.CLOSE), None, late=False)]
    return tuple(sorted(found, key=lambda need: (_ORDER[need.code], need.due_on or date.max)))


def case_asks(incident: Incident) -> tuple[Asked, ...]:
    """What an open case lacks whatever the day: the clinic's side, a course fallen short, a titre."""
    return (*_clinic(incident), *_short(incident), *_titre(incident)) if incident.is_open else ()


def _clinic(incident: Incident) -> Iterator[Asked]:
    if needs_clinic(incident):
        yield from clinic_asks(clinic_facts(incident))


def _short(incident: Incident) -> Iterator[Asked]:
    course = course_short(incident)
    if course is not None and course.ended_on is not None:
        yield Asked(NeedCode.RESUME, course.ended_on, course.ended_on)


def _titre(incident: Incident) -> Iterator[Asked]:
    """Blood to be taken after the course of somebody immunocompromised."""
    window = titre_missing(incident)
    if window is not None:
        yield Asked(
            NeedCode.TITRE, window.first_on, overdue_from(due_on=window.first_on, latest_on=window.last_on)
        )


def _asked(incident: Incident, now: datetime) -> Iterator[Need]:
    today = incident.site.local_date(now)
    for each in case_asks(incident):
        window = titre_missing(incident) if each.code is NeedCode.TITRE else None
        facts = {"first": _day(window.first_on), "last": _day(window.last_on)} if window else {}
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


def _course(course: Course, now: datetime) -> Iterator[Need]:
    """What a running course needs, by the calendar where it goes on."""
    if course.regimen_id is None:
        words = sentence(NeedCode.UNLISTED, name=course.regimen_name)
        yield Need(NeedCode.UNLISTED, words, course.incident.site.local_date(now), late=False)
    planned = list(course.planned_doses.all())
    missing = [dose for dose in planned if dose.given_on is None]
    if course.planned_recorded is None:
        yield _plain(NeedCode.PLAN, course)
    elif not planned:
        yield _plain(NeedCode.UNDATED, course)
    elif not missing:
        yield _plain(NeedCode.COMPLETE, course)
    else:
        today = course.local_date(now)
        yield from _dates(course, missing[0], today)
        for place, dose in enumerate(missing):
            if place == 0 or dose.due_on <= today:
                yield _dose(course, dose, today)


def _plain(code: NeedCode, course: Course) -> Need:
    return Need(code, sentence(code), None, late=False, course=course.pk)


def _dose(course: Course, dose: PlannedDose, today: date) -> Need:
    where = dose_due(due_on=dose.due_on, latest_on=dose.latest_on, today=today)
    variant = where.value if where is DoseDue.IN_WINDOW else ""
    words = sentence(
        NeedCode.DOSE, variant, number=dose.number, due=_day(dose.due_on), last=_day(dose.latest_on)
    )
    return Need(NeedCode.DOSE, words, dose.due_on, where is DoseDue.OVERDUE, course.pk, dose.number)


def _dates(course: Course, following: PlannedDose, today: date) -> Iterator[Need]:
    """The clinic's own next date where the plan says another, until a dose after that visit is given."""
    stated = [visit for visit in course.incident.visits.all() if visit.next_on is not None]
    if not stated:
        return
    visited_on, said = stated[-1].visited_on, stated[-1].next_on
    given = [dose.given_on for dose in course.planned_doses.all() if dose.given_on is not None]
    settled = any(day > visited_on for day in given)
    if said is None or settled or not date_disagrees(said, following.due_on, following.latest_on):
        return
    words = sentence(NeedCode.DATES_DIFFER, said=_day(said), due=_day(following.due_on))
    yield Need(NeedCode.DATES_DIFFER, words, today, late=False, course=course.pk)


def _day(day: date) -> str:
    return date_format(day, "DATE_FORMAT")


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


def dose_asked(dose: PlannedDose, now: datetime) -> Need:
    """The need of one planned dose of a running course, by the calendar where the course goes on."""
    return _dose(dose.course, dose, dose.course.local_date(now))
