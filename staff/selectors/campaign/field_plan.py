"""The outings a campaign's areas ask for, day by day, beside those that stand."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.models import Campaign, CampaignArea, Outing, OutingMove, Site
from staff.rules.campaign.field_days import spread, working_days
from staff.selectors.outing.roster import site_shape
from staff.selectors.record.readiness import clear_dates


class DayState(StrEnum):
    NEW = "new"
    STANDS = "stands"
    PAST = "past"
    # Somebody called off or moved the outing of that day: it isn't made again unless asked for.
    CANCELLED = "cancelled"
    MOVED = "moved"


@dataclass(frozen=True)
class AreaDay:
    """One day of one area; `outing` is the one that stands, was cancelled or moved away."""

    area: CampaignArea
    date: date
    adults: int
    puppies: int
    riders: int
    state: DayState
    outing: Outing | None = None

    @property
    def dogs(self) -> int:
        return self.adults + self.puppies


@dataclass(frozen=True)
class FieldPlan:
    """`days` by area and date; `differs`: outings that stand otherwise than the plan says now, in words."""

    days: tuple[AreaDay, ...]
    differs: tuple[tuple[Outing, str], ...]

    @property
    def new(self) -> list[AreaDay]:
        return [row for row in self.days if row.state is DayState.NEW]

    @property
    def dogs(self) -> int:
        return sum(row.dogs for row in self.new)

    @property
    def table(self) -> tuple[list[CampaignArea], list[tuple[date, list[AreaDay | None]]]]:
        """Its columns, the areas, and its rows, the dates, with an empty place where an area isn't worked."""
        areas = list(dict.fromkeys(row.area for row in self.days))
        cells = {(row.date, row.area.pk): row for row in self.days}
        dates = sorted({row.date for row in self.days})
        return areas, [(day, [cells.get((day, area.pk)) for area in areas]) for day in dates]

    @property
    def fingerprint(self) -> str:
        """The same for the same outings to be made, so that what is kept is what was seen."""
        text = ";".join(
            f"{row.date}/{row.area.name}/{row.area.method}/{row.area.crews}/{row.adults}/{row.puppies}/{row.riders}"
            for row in self.new
        )
        return hashlib.sha256(text.encode()).hexdigest()[:24]


def campaign_outings(campaign: Campaign) -> QuerySet[Outing]:
    return campaign.outings.select_related("site__rules").prefetch_related("crews", "moves")


def field_plan(campaign: Campaign, *, weekdays: Iterable[int], again: bool, today: date) -> FieldPlan:
    """What planning on `weekdays` (Monday 0) would make; with `again` also the days called off or moved away.

    Raises `RuleError` where the weekdays and the site's holidays leave no day. Days before `today` are left out.
    """
    outings = list(campaign_outings(campaign))
    holidays = frozenset(campaign.site.holidays.values_list("date", flat=True))
    chosen = frozenset(weekdays)
    known = _Known.of(outings)
    days = [
        row
        for area in campaign.areas.all()
        for row in _area_days(area, chosen, holidays, known, again=again, today=today)
    ]
    return FieldPlan(tuple(days), tuple(_differences(outings, days, today)))


@dataclass(frozen=True)
class _Known:
    """The campaign's outings by area and date: as they stand, cancelled, and as they stood before they were moved."""

    standing: Mapping[tuple[str, date], Outing]
    cancelled: Mapping[tuple[str, date], Outing]
    moved: Mapping[tuple[str, date], Outing]

    @classmethod
    def of(cls, outings: Iterable[Outing]) -> _Known:
        rows = list(outings)
        moves: list[tuple[Outing, OutingMove]] = [(row, move) for row in rows for move in row.moves.all()]
        return cls(
            {(row.area, row.date): row for row in rows if row.cancelled_at is None},
            {(row.area, row.date): row for row in rows if row.cancelled_at is not None},
            {(row.area, move.old_date): row for row, move in moves},
        )

    def state(self, area: str, day: date, *, again: bool, today: date) -> tuple[DayState, Outing | None]:
        at = (area, day)
        if at in self.standing:
            return DayState.STANDS, self.standing[at]
        if day < today:
            return DayState.PAST, None
        if at in self.moved and not again:
            return DayState.MOVED, self.moved[at]
        if at in self.cancelled and not again:
            return DayState.CANCELLED, self.cancelled[at]
        return DayState.NEW, None


def _area_days(
    area: CampaignArea,
    weekdays: frozenset[int],
    holidays: frozenset[date],
    known: _Known,
    *,
    again: bool,
    today: date,
) -> Iterable[AreaDay]:
    dates = working_days(first=area.first_on, count=area.days, weekdays=weekdays, holidays=holidays)
    shares = zip(dates, spread(area.adults, area.days), spread(area.puppies, area.days), strict=True)
    for day, adults, puppies in shares:
        state, outing = known.state(area.name, day, again=again, today=today)
        yield AreaDay(area, day, adults, puppies, area.riders, state, outing)


def _differences(
    outings: Iterable[Outing], days: Iterable[AreaDay], today: date
) -> Iterable[tuple[Outing, str]]:
    planned = {row.outing.pk: row for row in days if row.state is DayState.STANDS and row.outing}
    areas = {row.area.name for row in days}
    for outing in outings:
        if outing.cancelled_at is not None or outing.date < today:
            continue
        if outing.pk in planned:
            words = _figures_that_differ(outing, planned[outing.pk])
        elif outing.area in areas:
            words = _("%(day)s is no day of the plan.") % {"day": date_format(outing.date)}
        else:
            words = _("The plan has no area of this name.")
        if words:
            yield outing, words


def _figures_that_differ(outing: Outing, day: AreaDay) -> str:
    wanted = {
        _("dogs"): (outing.dogs_expected, day.dogs),
        _("puppies"): (outing.puppies_expected, day.puppies),
        _("riders"): (outing.riders, day.riders),
        _("crews"): (len(outing.crews.all()), day.area.crews),
        _("method"): (outing.get_method_display(), day.area.get_method_display()),
    }
    words = _("%(what)s: %(stands)s, by the plan %(planned)s.")
    return " ".join(
        words % {"what": what.capitalize(), "stands": stands, "planned": planned}
        for what, (stands, planned) in wanted.items()
        if stands != planned
    )


def people_by_day(plan: FieldPlan, site: Site) -> dict[date, tuple[int, int]]:
    """By date: people that the crews of its outings need, and people with a crew role who are clear on it."""
    needed: Counter[date] = Counter()
    for row in plan.days:
        if row.state in (DayState.NEW, DayState.STANDS):
            needed[row.date] += row.area.crews * sum(site_shape(site, row.area.method).values())
    team = clear_dates(site.people.filter(crew_roles__isnull=False).distinct(), [site]) if needed else []
    return {
        day: (number, sum(dates.clear_on(day) for dates in team)) for day, number in sorted(needed.items())
    }
