"""What moved in a course and why, in words, newest first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.models import Course, CourseFact, PlanChange

PLAN_WHY = {
    "begun": gettext_lazy("The course began."),
    "dose": gettext_lazy("The dose of %(fact)s was recorded."),
    "voided": gettext_lazy("The dose of %(fact)s was voided."),
    "regimen": gettext_lazy("The regimen was changed to: %(fact)s."),
    "dates": gettext_lazy("The clinic wrote new dates."),
    "place": gettext_lazy("The course goes on elsewhere."),
    "ended": gettext_lazy("The course ended."),
    "resumed": gettext_lazy("The course was taken up again."),
    "recomputed": gettext_lazy("The dates were computed again."),
}
FACTS = {
    CourseFact.Kind.REGIMEN: gettext_lazy("Another regimen: %(after)s instead of %(before)s."),
    CourseFact.Kind.DATES: gettext_lazy("New dates from the clinic: %(after)s instead of %(before)s."),
    CourseFact.Kind.PLACE: gettext_lazy("The course goes on at: %(after)s."),
    CourseFact.Kind.ENDED: gettext_lazy("The course ended: %(after)s."),
    CourseFact.Kind.RESUMED: gettext_lazy("The course was taken up again; it had ended: %(before)s."),
}


@dataclass(frozen=True)
class Entry:
    """One moment of a course's history: why, and each dose that moved. `at` is aware."""

    at: datetime
    why: str
    moves: list[str]


def history_of(course: Course, *, follows: bool) -> list[Entry]:
    """The plan's moves; for who follows the case also who said what, and why."""
    entries = _moved(course.plan_changes.all())
    if follows:
        entries += [Entry(fact.at, fact_words(fact), []) for fact in course.facts.select_related("by")]
    return sorted(entries, key=lambda entry: entry.at, reverse=True)


def _moved(changes: Iterable[PlanChange]) -> list[Entry]:
    return [
        Entry(at, _why(rows[0].why), [move_words(row) for row in rows])
        for at, group in groupby(changes, key=lambda change: change.at)
        if (rows := list(group))
    ]


def _why(pairs: list[list[str]]) -> str:
    return " ".join(
        str(PLAN_WHY[code]) % {"fact": _fact(code, fact)} for code, fact in pairs if code in PLAN_WHY
    )


def _fact(code: str, fact: str) -> str:
    return _day(date.fromisoformat(fact)) if code in ("dose", "voided") else fact


def _day(day: date | None) -> str:
    return date_format(day, "DATE_FORMAT") if day else ""


def move_words(change: PlanChange) -> str:
    """One sentence about one dose."""
    about = {
        "n": change.number,
        "was": _day(change.was_due),
        "now": _day(change.now_due),
        "given": _day(change.now_given),
        "ungiven": _day(change.was_given),
    }
    if change.now_due is None:
        return _("Dose %(n)d, which was due on %(was)s, is no longer planned.") % about
    if change.now_given is not None and change.now_given != change.was_given:
        return _("Dose %(n)d was given on %(given)s.") % about
    if change.was_due is None:
        return _("Dose %(n)d is due on %(now)s.") % about
    if change.was_given is not None and change.now_given is None:
        return _("Dose %(n)d no longer counts as given on %(ungiven)s; it is due on %(now)s.") % about
    return _("Dose %(n)d moved from %(was)s to %(now)s.") % about


def fact_words(fact: CourseFact) -> str:
    """What was changed, on whose word, why, and who wrote it down."""
    nothing = _("nothing stated")
    about = {"before": fact.before or nothing, "after": fact.after or nothing}
    parts = [str(FACTS[CourseFact.Kind(fact.kind)]) % about]
    if fact.said_by:
        parts.append(_("Said by: %(who)s.") % {"who": fact.said_by})
    if fact.reason:
        parts.append(_("Why: %(why)s.") % {"why": fact.reason.rstrip(".")})
    return " ".join([*parts, _("Recorded by %(who)s.") % {"who": fact.by}])
