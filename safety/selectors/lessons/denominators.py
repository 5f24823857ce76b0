"""What rates are counted against: dogs handled and hours worked, each once."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from safety.models import CrewReturn, DeparturePerson, HandledTally
from staff.models import Assignment, Crew, Site


@dataclass(frozen=True)
class Denominators:
    """Of one site from one date to another. A dog may stand in several tasks of `by_task` and stands in `dogs` once.

    `by_phone`: crews, or senders on no known crew, without a return. What their phones counted is in `by_task`, in `dogs` it is the task with
    the most (so never too many dogs, which would make a rate look small), and their hours aren't known.
    """

    dogs: int
    by_task: Mapping[str, int]
    person_hours: Decimal
    returns: int
    by_phone: int


def denominators(site: Site, first: date, last: date) -> Denominators:
    """`first` and `last` are dates of the site's calendar, both included. Voided returns count nowhere."""
    returns = list(
        CrewReturn.objects.filter(crew__outing__site=site, crew__outing__date__range=(first, last))
        .select_related("crew__outing")
        .prefetch_related("tallies")
    )
    by_task: Counter[str] = Counter()
    for row in returns:
        by_task.update({tally.task: tally.dogs for tally in row.tallies.all()})
    phones = _without_return(_counted(site, first, last), returns)
    for counts in phones.values():
        by_task.update(counts)
    return Denominators(
        dogs=sum(row.dogs for row in returns) + sum(max(counts.values()) for counts in phones.values()),
        by_task=dict(by_task),
        person_hours=sum((row.hours * row.people for row in returns), Decimal(0)),
        returns=len(returns),
        by_phone=len(phones),
    )


def counted_by_phone(crew: Crew) -> dict[str, int]:
    """Dogs by task that phones of this crew counted on the outing's date."""
    outing = crew.outing
    found = _counted(outing.site, outing.date, outing.date)
    return next((dict(counts) for place, counts in found.items() if place.crew == crew.pk), {})


@dataclass(frozen=True)
class _Place:
    """Where a phone's count belongs: the date, the outing and the crew, as far as they are known."""

    day: date
    outing: int | None
    crew: int | None


def _counted(site: Site, first: date, last: date) -> dict[_Place, Counter[str]]:
    """What phones counted, by crew: the sender's on that date, or the outing's only one."""
    found: dict[_Place, Counter[str]] = defaultdict(Counter)
    tallies = HandledTally.objects.filter(site=site, date__range=(first, last), count__gt=0)
    crews = _crews_of_people(site, first, last)
    for tally in tallies.prefetch_related("outing__crews"):
        own = crews.get((tally.date, tally.sender_id))
        if tally.outing is not None and (own is None or own[0] != tally.outing_id):
            only = [crew.pk for crew in tally.outing.crews.all()]
            own = (tally.outing.pk, only[0]) if len(only) == 1 else None
        outing, crew = own or (tally.outing_id, None)
        found[_Place(tally.date, outing, crew)][tally.task] += tally.count
    return found


def _crews_of_people(site: Site, first: date, last: date) -> dict[tuple[date, int], tuple[int, int]]:
    """Outing and crew of everybody by date; who left with a crew was on it, whatever the roster says since."""
    rostered = Assignment.objects.filter(outing__site=site, outing__date__range=(first, last))
    left = DeparturePerson.objects.filter(
        present=True,
        departure__voided_at__isnull=True,
        departure__crew__outing__site=site,
        departure__date__range=(first, last),
    )
    rows = [
        *rostered.values_list("outing__date", "person", "outing", "crew"),
        *left.values_list("departure__date", "person", "departure__crew__outing", "departure__crew"),
    ]
    return {(day, person): (outing, crew) for day, person, outing, crew in rows}


def _without_return(
    phones: Mapping[_Place, Counter[str]], returns: Iterable[CrewReturn]
) -> dict[_Place, Counter[str]]:
    """The counts no return can hold already: a count without a crew gives way to any return of its outing or date."""
    crews = {row.crew_id for row in returns}
    outings = {row.crew.outing_id for row in returns}
    days = {row.crew.outing.date for row in returns}
    return {
        place: counts
        for place, counts in phones.items()
        if not (
            place.crew in crews
            if place.crew is not None
            else place.outing in outings
            if place.outing is not None
            else place.day in days
        )
    }
