"""The kit of an outing's crews and of a campaign, with what has been ticked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from django.db.models import Prefetch, QuerySet

from staff.models import Campaign, Crew, KitTick, Outing, Site, User
from staff.rules.outing.kit import Item, KitRules, Line, Load, add_up, crew_load, kit_for
from staff.selectors.access import LEAD, OFFICER, has_role
from staff.selectors.outing.kit_words import count_words, item_words, reason_of


@dataclass(frozen=True)
class KitRow:
    """One line of a crew's list; `tick` is the last word about it, None when nobody has said one."""

    line: Line
    tick: KitTick | None
    reason: str

    @property
    def there(self) -> bool:
        return self.tick is not None and self.tick.there

    @property
    def words(self) -> str:
        return item_words(self.line.item)

    @property
    def count(self) -> str:
        return count_words(self.line)


@dataclass(frozen=True)
class CrewKit:
    crew: Crew
    rows: tuple[KitRow, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        return tuple(row.words for row in self.rows if not row.there)

    @property
    def complete(self) -> bool:
        return not self.missing


def outing_kit(outing: Outing, *, reader: User | None = None) -> tuple[CrewKit, ...]:
    """A list for each crew, that of the crew the reader is on first, then in the order of the crews."""
    crews = list(outing.crews.prefetch_related(Prefetch("kit_ticks", _standing(outing))))
    own = (
        set(outing.assignments.filter(person__user=reader).values_list("crew", flat=True))
        if reader
        else set()
    )
    crews.sort(key=lambda crew: crew.pk not in own)
    rules, lines = kit_rules(outing.site), crew_lines(outing, len(crews))
    return tuple(CrewKit(crew, _rows(crew, lines, rules)) for crew in crews)


def _rows(crew: Crew, lines: Sequence[Line], rules: KitRules) -> tuple[KitRow, ...]:
    ticks = {tick.item: tick for tick in crew.kit_ticks.all()}
    return tuple(KitRow(line, ticks.get(line.item.value), reason_of(line, rules)) for line in lines)


def crew_ticks(crew: Crew) -> QuerySet[KitTick]:
    """What was ticked for the day the outing is planned for."""
    return _standing(crew.outing).filter(crew=crew)


def packed_since(outing: Outing) -> datetime | None:
    """When the outing was moved last: what was packed for another day counts no more. None if it never was."""
    return outing.moves.order_by("pk").values_list("moved_at", flat=True).last()


def _standing(outing: Outing) -> QuerySet[KitTick]:
    since = packed_since(outing)
    return KitTick.objects.filter(ticked_at__gt=since) if since else KitTick.objects.all()


def kit_missing(crew: Crew) -> list[str]:
    """The names of the items of the crew's list that nobody has ticked as there."""
    lines = crew_lines(crew.outing, crew.outing.crews.count())
    there = set(crew_ticks(crew).filter(there=True).values_list("item", flat=True))
    return [item_words(line.item) for line in lines if line.item.value not in there]


def kit_complete(crew: Crew) -> bool:
    return not kit_missing(crew)


def may_tick(user: User, outing: Outing) -> bool:
    """Officer and crew leads of the site, and everybody on the outing."""
    on_it = outing.assignments.filter(person__user=user).exists()
    return on_it or has_role(user, outing.site, OFFICER, LEAD)


def kit_rules(site: Site) -> KitRules:
    return KitRules(
        spare_percent=site.rules.spare_percent,
        syringe_uses=site.rules.syringe_uses,
        washes_carried=site.rules.washes_carried,
        wash_minutes=site.rules.wash_minutes,
        wash_flow_ml=site.rules.wash_flow_ml,
    )


def crew_lines(outing: Outing, crews: int) -> tuple[Line, ...]:
    """The list that each of the outing's `crews` crews has; empty for an outing without a crew."""
    if not crews:
        return ()
    adults = outing.dogs_expected - outing.puppies_expected
    whole = Load(adults, outing.puppies_expected, outing.riders)
    return kit_for(crew_load(whole, crews), kit_rules(outing.site))


@dataclass(frozen=True)
class KitDay:
    """One day of a campaign, with what its crews carry together."""

    date: date
    areas: str
    crews: int
    lines: Mapping[Item, Line]


@dataclass(frozen=True)
class KitTotal:
    """An item over all days, and the most that one day takes: enough of what comes back every evening."""

    line: Line
    busiest: Line

    @property
    def words(self) -> str:
        return item_words(self.line.item)

    @property
    def counts(self) -> tuple[str, str]:
        return count_words(self.line), count_words(self.busiest)


@dataclass(frozen=True)
class CampaignKit:
    totals: tuple[KitTotal, ...]
    days: tuple[KitDay, ...]

    @property
    def table(self) -> list[tuple[KitDay, list[tuple[str, str]]]]:
        """For each day the name of every item of the campaign and how many, empty where the day needs none."""
        items = [total.line.item for total in self.totals]
        return [
            (
                day,
                [
                    (item_words(item), count_words(day.lines[item]) if item in day.lines else "")
                    for item in items
                ],
            )
            for day in self.days
        ]


def campaign_kit(campaign: Campaign) -> CampaignKit:
    """The crews' lists of all outings of the campaign that aren't cancelled, added up, in a constant number of queries."""
    outings = campaign.outings.filter(cancelled_at=None).select_related("site__rules")
    rows = list(outings.prefetch_related("crews").order_by("date", "area", "pk"))
    days = tuple(_day(on, list(same)) for on, same in groupby(rows, key=lambda row: row.date))
    return CampaignKit(_totals(days), days)


def _day(on: date, outings: Sequence[Outing]) -> KitDay:
    crews = [(outing, len(outing.crews.all())) for outing in outings]
    lines = add_up(crew_lines(outing, number) for outing, number in crews for _each in range(number))
    return KitDay(
        on,
        ", ".join(outing.area for outing in outings),
        sum(number for _outing, number in crews),
        {line.item: line for line in lines},
    )


def _totals(days: Sequence[KitDay]) -> tuple[KitTotal, ...]:
    whole = add_up(day.lines.values() for day in days)
    return tuple(
        KitTotal(line, max((day.lines[line.item] for day in days if line.item in day.lines), key=_carried))
        for line in whole
    )


def _carried(line: Line) -> int:
    return line.count
