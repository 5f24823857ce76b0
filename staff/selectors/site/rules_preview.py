"""Who would gain or lose clearance if a site's rules or approvals changed; and how far a change has come."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from staff.ground.purposes import SERIES
from staff.models import (
    ClearancePending,
    Outing,
    Person,
    Regimen,
    RulesChange,
    Site,
    User,
    Withdrawal,
)
from staff.models.site.site import WASH_MINUTES
from staff.rules.record.immunity import qualifying_regimens
from staff.selectors.access import OFFICER, sites_as
from staff.selectors.record.records import RegimenBook, with_record
from staff.selectors.regimen.regimens import pre_exposure_rules, versioned_rule
from staff.selectors.site.consequences import consequences


@dataclass(frozen=True)
class DayPreview:
    """One date under the old and the new rules. `withdrawn`: who would be taken off a roster of that date."""

    on: date
    areas: tuple[str, ...]
    clear_now: int
    clear_then: int
    gain: tuple[Person, ...]
    lose: tuple[Person, ...]
    withdrawn: tuple[Person, ...]


def rules_preview(site: Site, changes: Mapping[str, Any], today: date) -> list[DayPreview]:
    """Today and the dates of all coming outings, by the records as they are; a constant number of queries.

    Both sides are judged afresh, so that a recompute that is still under way doesn't blur the comparison.
    """
    then = _with_rules(site, changes)
    book = RegimenBook.for_sites([site])
    return _preview((site, book), (then, book), today)


def rules_consequences(site: Site, changes: Mapping[str, Any]) -> list[str]:
    """What a change does, or doesn't, that the table of who gains and loses clearance can't show."""
    words = []
    if (minutes := changes.get("wash_minutes")) is not None:
        words.append(
            _("Wash clocks, cards and letters ask for %(n)d minutes from now on, for open cases too.")
            % {"n": minutes}
        )
        if minutes < WASH_MINUTES:
            words.append(
                _(
                    "Caution: WHO asks for %(n)d minutes with soap and running water. Go below only where the "
                    "health authority says so in writing."
                )
                % {"n": WASH_MINUTES}
            )
    if (days := changes.get("observation_days")) is not None:
        words.append(
            _("A dog or cat is to be watched for %(n)d days; animals already watched keep their last day.")
            % {"n": days}
        )
    if (required := changes.get("doses_required")) is not None:
        approved = pre_exposure_rules(site)
        before = qualifying_regimens(approved, site.rules.doses_required)
        if before and qualifying_regimens(approved, required) == before:
            words.append(
                _(
                    "Nobody's clearance changes by this: a series is complete only with all its doses, and the "
                    "shortest approved regimen that counts has %(n)d. A shorter one has to be approved first."
                )
                % {"n": min(len(regimen.primary_steps) for regimen in before)}
            )
    return words


def approval_preview(site: Site, regimen: Regimen, today: date, *, approved: bool) -> list[DayPreview]:
    """The same for an approval of `regimen` at the site, or for its withdrawal: one more approval may cost
    somebody the clearance, as a second skin regimen with more injections does at a site of mixed routes; nothing for a version that no
    clearance rests on."""
    if regimen.purpose not in SERIES:
        return []
    book, rule = RegimenBook.for_sites([site]), versioned_rule(regimen)
    others = [each for each in book.pre_exposure[site.pk] if each.code != rule.code]
    then = replace(book, pre_exposure={site.pk: [*others, rule] if approved else others})
    return _preview((site, book), (site, then), today)


def _preview(now: tuple[Site, RegimenBook], then: tuple[Site, RegimenBook], today: date) -> list[DayPreview]:
    site = now[0]
    outings = list(
        Outing.objects.filter(site=site, date__gte=today, cancelled_at__isnull=True).order_by("date", "pk")
    )
    days = sorted({today, *(outing.date for outing in outings)})
    now_clear, then_clear = _clear_on(*now, days), _clear_on(*then, days)
    people = {person.pk: person for person in site.people.all()}
    taken: dict[date, set[int]] = {}
    for loss in consequences(*then, today):
        taken.setdefault(loss.assignment.outing.date, set()).add(loss.assignment.person_id)
    return [
        DayPreview(
            on=day,
            areas=tuple(outing.area for outing in outings if outing.date == day),
            clear_now=len(now_clear[day]),
            clear_then=len(then_clear[day]),
            gain=_named(people, then_clear[day] - now_clear[day]),
            lose=_named(people, now_clear[day] - then_clear[day]),
            withdrawn=_named(people, taken.get(day, set())),
        )
        for day in days
    ]


def _with_rules(site: Site, changes: Mapping[str, Any]) -> Site:
    """A copy of the site, never saved, that works by the changed rules."""
    changed, rules = copy.copy(site), copy.copy(site.rules)
    for field, value in changes.items():
        setattr(rules, field, value)
    changed.rules = rules
    return changed


def _clear_on(site: Site, book: RegimenBook, days: list[date]) -> dict[date, set[int]]:
    clear: dict[date, set[int]] = {day: set() for day in days}
    for person in with_record(Person.objects.filter(site_id=site.pk)):
        person.site = site
        judged = book.judge(person)
        for day in days:
            if judged.covers(day):
                clear[day].add(person.pk)
    return clear


def _named(people: Mapping[int, Person], keys: set[int]) -> tuple[Person, ...]:
    return tuple(sorted((people[key] for key in keys), key=lambda person: (person.name, person.number)))


@dataclass(frozen=True)
class Progress:
    change: RulesChange
    done: int

    @property
    def percent(self) -> int:
        return 100 if not self.change.total else 100 * self.done // self.change.total


def rules_changes_visible_to(user: User, site: Site) -> QuerySet[RulesChange]:
    """Changes of a site's rules, newest first, for its officers."""
    seen = RulesChange.objects.filter(site=site, site__in=sites_as(user, OFFICER))
    return seen.select_related("site", "by", "overtaken_by")


def change_made(site: Site, at: datetime) -> RulesChange:
    """The change of a site's rules or approvals that was made at this instant."""
    return RulesChange.objects.filter(site=site, at=at).latest("pk")


def withdrawn_by(change: RulesChange) -> QuerySet[Withdrawal]:
    """Who a change took off which outing: that is done in its own transaction, at its own instant."""
    taken = Withdrawal.objects.filter(outing__site=change.site_id, by_rule=True, withdrawn_at=change.at)
    return taken.select_related("person", "outing").order_by("outing__date", "outing_id", "person__name")


def progress_of(change: RulesChange) -> Progress:
    """How many people a change has recomputed; those another change took over count as done with."""
    return Progress(change, change.total - ClearancePending.objects.filter(change=change).count())
