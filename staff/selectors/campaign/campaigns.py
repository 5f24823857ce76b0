"""Who of a campaign can be ready by its start, what each lacks, and sessions that would see to it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from staff.models import Campaign, Person, Session, SessionPlace
from staff.models.outing.campaign import OPENS_AT
from staff.planning.sessions import MissingDose, Need, ProposedSessions, Visit, plan_sessions
from staff.rules.record.outlook import Way
from staff.rules.regimen import values
from staff.selectors.record.outlook import way_to_clear
from staff.selectors.record.readiness import ClearDates, clear_dates
from staff.selectors.record.records import RegimenBook
from staff.selectors.regimen.regimens import versioned_rule
from staff.words import reason_words

# A plan reaches no further: beyond it nobody can say who will come, and the choices would grow without use.
DAYS_AT_MOST = 60


class Prospect(StrEnum):
    READY = "ready"
    # The record allows the start, and nobody is clear before what is stored follows it.
    RECOMPUTE = "recompute"
    IN_TIME = "in-time"
    DECISION = "decision"
    LATE = "late"


@dataclass(frozen=True)
class MemberOutlook:
    """One person of the campaign: `words` name what stands in the way when that is more than a dose to give."""

    person: Person
    prospect: Prospect
    way: Way
    words: tuple[str, ...]

    @property
    def next_dose_last_on(self) -> date | None:
        """The last day on which the next dose still leads to the campaign's start."""
        return self.way.doses[0].last_on if self.way.doses and self.prospect is Prospect.IN_TIME else None

    @property
    def replace(self) -> bool:
        return self.prospect is Prospect.LATE


def members_outlook(campaign: Campaign, today: date) -> list[MemberOutlook]:
    """Everybody of the campaign as the record stands, in a constant number of queries."""
    book = RegimenBook.for_sites([campaign.site])
    regimen = versioned_rule(campaign.regimen)
    people = Person.objects.filter(campaign_memberships__campaign=campaign).order_by("name", "number")
    return [_outlook(dates, campaign, regimen, book, today) for dates in clear_dates(people, [campaign.site])]


def _outlook(
    dates: ClearDates, campaign: Campaign, regimen: values.Regimen, book: RegimenBook, today: date
) -> MemberOutlook:
    way = way_to_clear(
        person=dates.person,
        book=book,
        today=today,
        on=campaign.starts_on,
        plan_by=regimen,
        route=values.Route(campaign.route),
    )
    prospect = _prospect(way, dates, campaign.starts_on)
    words = tuple(reason_words(action.reason) for action in way.actions if action.reason is not None)
    if prospect is Prospect.RECOMPUTE:
        words = dates.on(campaign.starts_on).words
    return MemberOutlook(dates.person, prospect, way, words)


def _prospect(way: Way, dates: ClearDates, starts_on: date) -> Prospect:
    if way.clear_on is None:
        return Prospect.DECISION
    if way.clear_on > starts_on:
        return Prospect.LATE
    if way.actions:
        return Prospect.IN_TIME
    return Prospect.READY if dates.clear_on(starts_on) else Prospect.RECOMPUTE


def first_day(campaign: Campaign, now: datetime) -> date:
    """The first day on which a session can still be planned: not today once it would have opened."""
    local = now.astimezone(campaign.site.zone)
    return local.date() + timedelta(days=local.time() >= OPENS_AT)


def candidate_days(campaign: Campaign, first: date, weekdays: Iterable[int]) -> list[date]:
    """The days of the chosen weekdays (Monday 0) from `first` to the last that can still help."""
    last = campaign.starts_on - timedelta(days=campaign.site.rules.settling_days)
    chosen = set(weekdays)
    span = (first + timedelta(days=offset) for offset in range(max(0, (last - first).days + 1)))
    return [day for day in span if day.weekday() in chosen][:DAYS_AT_MOST]


@dataclass(frozen=True)
class Proposal:
    """`elsewhere`: places that people of the plan have on other campaigns' lists. `could_come`: by person, the first
    of the chosen days on which the next dose counts."""

    plan: ProposedSessions
    members: Sequence[MemberOutlook]
    elsewhere: Sequence[SessionPlace]
    could_come: Mapping[int, date]

    def names(self, keys: Iterable[int]) -> list[Person]:
        by_key = {row.person.pk: row.person for row in self.members}
        return [by_key[key] for key in keys]

    @property
    def sessions(self) -> list[tuple[date, list[tuple[Person, Visit]]]]:
        by_key = {row.person.pk: row.person for row in self.members}
        return [
            (day, sorted(((by_key[v.key], v) for v in self.plan.on(day)), key=lambda pair: pair[0].name))
            for day in self.plan.days
        ]

    @property
    def put_off(self) -> list[tuple[Person, date]]:
        """Whoever gets the next dose later than the chosen days allow, and the day that was possible."""
        planned: dict[int, date] = {}
        for visit in self.plan.visits:
            planned[visit.key] = min(visit.on, planned.get(visit.key, visit.on))
        late = [row.person for row in self.members if row.person.pk in planned]
        return [
            (person, self.could_come[person.pk])
            for person in late
            if planned[person.pk] > self.could_come[person.pk]
        ]

    @property
    def no_day(self) -> list[Person]:
        return self.names(self.plan.no_day)

    @property
    def no_room(self) -> list[Person]:
        return self.names(self.plan.no_room)


def propose(
    campaign: Campaign, *, today: date, days: Sequence[date], people_at_most: int | None = None
) -> Proposal:
    """Sessions for everybody who can still be ready and lacks doses. Days before `today` are left out."""
    members = members_outlook(campaign, today)
    last = campaign.starts_on - timedelta(days=campaign.site.rules.settling_days)
    needs = [_need(row, last) for row in members if row.prospect is Prospect.IN_TIME and row.way.doses]
    days = sorted(day for day in days if day >= today)
    plan = plan_sessions(
        needs=needs,
        days=days,
        injections_per_vial=campaign.injections_per_vial,
        people_at_most=people_at_most,
    )
    firsts = {need.key: next((day for day in days if day >= need.first_from), last) for need in needs}
    return Proposal(plan, members, _elsewhere(campaign, plan, today), firsts)


def _elsewhere(campaign: Campaign, plan: ProposedSessions, today: date) -> list[SessionPlace]:
    """Somebody on two lists would be asked twice for one dose."""
    places = SessionPlace.objects.filter(
        outcome=SessionPlace.Outcome.EXPECTED,
        person__in={visit.key for visit in plan.visits},
        session__held_on__gte=today,
    ).exclude(session__campaign=campaign)
    ordered = places.exclude(session__state=Session.State.CANCELLED).order_by(
        "person__name", "session__held_on"
    )
    return list(ordered.select_related("person", "session__campaign"))


def _need(row: MemberOutlook, last: date) -> Need:
    doses = row.way.doses
    first = doses[0].earliest_on
    if first is None:
        raise AssertionError(f"a missing dose of person {row.person.pk} has no earliest date")
    missing = tuple(MissingDose(dose.number or 0, dose.gap, dose.injections) for dose in doses)
    return Need(row.person.pk, missing, first, last)
