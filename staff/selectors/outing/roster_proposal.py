"""A proposed roster of some days, and why a place stays empty."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.models import CrewRole, DayWish
from staff.planning.roster import plan_roster
from staff.planning.roster_values import Candidate, Filled, OpenCrew, ProposedRoster
from staff.rules.outing.rest_days import misses_day_off
from staff.selectors.outing.roster_board import CrewDay, RosterBoard, TeamMember
from staff.selectors.record.clear_from import ClearFrom, clear_from

# People named for one empty place.
NAMED = 5


@dataclass(frozen=True)
class WhyNot:
    """Somebody who has the crew role and doesn't fill the place. `clear_from`: when the person will be clear, if known;
    `clear`: on the day itself, so that something else keeps the person away."""

    member: TeamMember
    words: str
    clear: bool = True
    clear_from: date | None = None

    @property
    def rank(self) -> tuple[int, date, str]:
        """Who could be had soonest comes first: clear people, then those who will be, then those waiting for a decision."""
        turn = 0 if self.clear else 1 if self.clear_from else 2
        return turn, self.clear_from or date.max, self.member.person.name


@dataclass(frozen=True)
class Gap:
    """Places of one role of one crew that stay empty, and who could fill them but for what."""

    crew: CrewDay
    role: str
    number: int
    others: tuple[WhyNot, ...]
    more: int

    @property
    def role_name(self) -> str:
        return str(CrewRole(self.role).label)


@dataclass(frozen=True)
class RosterProposal:
    plan: ProposedRoster
    gaps: tuple[Gap, ...]

    @property
    def helpers(self) -> list[tuple[WhyNot, int]]:
        """Who isn't clear and would fill something, by how many empty places, with the word about the first of them."""
        first: dict[int, WhyNot] = {}
        places: Counter[int] = Counter()
        for gap in self.gaps:
            for why in gap.others:
                if not why.clear:
                    first.setdefault(why.member.person.pk, why)
                    places[why.member.person.pk] += 1
        return [(first[person], number) for person, number in places.most_common(NAMED)]

    @property
    def filled_by_crew(self) -> dict[int, list[Filled]]:
        found: dict[int, list[Filled]] = {}
        for place in self.plan.filled:
            found.setdefault(place.crew, []).append(place)
        return found


def propose_roster(board: RosterBoard, today: date) -> RosterProposal:
    """Fill what is open from `today` on; whoever is on a crew already stays there, and a crew that left takes nobody."""
    ahead = [row for row in board.crews if row.outing.date >= today and not row.left]
    crews = [
        OpenCrew(row.crew.pk, row.outing.date, f"{row.outing.area} {row.crew.name}", row.lacks)
        for row in ahead
    ]
    people = [_candidate(member, board) for member in board.team]
    plan = plan_roster(crews=crews, people=people, rest=board.rest)
    return RosterProposal(plan, roster_gaps(board, plan, today))


def _candidate(member: TeamMember, board: RosterBoard) -> Candidate:
    days = board.days
    cannot = {day for day in days if member.wish(day) == DayWish.Kind.CANNOT}
    return Candidate(
        key=member.person.pk,
        roles=member.roles,
        free=frozenset(day for day in days if day not in cannot and member.clear_on(day)),
        out=member.out,
        rather_not=frozenset(day for day in days if member.wish(day) == DayWish.Kind.RATHER_NOT),
        gladly=frozenset(day for day in days if member.wish(day) == DayWish.Kind.GLADLY),
    )


def roster_gaps(board: RosterBoard, plan: ProposedRoster, today: date) -> tuple[Gap, ...]:
    """Every place that `plan` leaves empty, in order of days, with who could be had soonest."""
    placed = {(place.person, place.day): place for place in plan.filled}
    out = {
        member.person.pk: member.out | {day for person, day in placed if person == member.person.pk}
        for member in board.team
    }
    gaps, ahead = [], _Ahead(today)
    for row in board.crews:
        for role, number in plan.open.get(row.crew.pk, {}).items():
            others = [
                why
                for member in board.team
                if role in member.roles
                for why in [_why_not(member, row, board, placed, out, ahead)]
            ]
            others.sort(key=lambda why: why.rank)
            gaps.append(Gap(row, role, number, tuple(others[:NAMED]), max(0, len(others) - NAMED)))
    return tuple(gaps)


class _Ahead:
    """From when people will be clear, looked for once a person where the answer for an earlier day still holds."""

    def __init__(self, today: date) -> None:
        self.today = today
        self.known: dict[int, list[tuple[date, ClearFrom]]] = {}

    def of(self, member: TeamMember, day: date) -> ClearFrom:
        answers = self.known.setdefault(member.person.pk, [])
        for since, answer in answers:
            if since <= day and (answer.on is None or answer.on > day):
                return answer
        answers.append((day, clear_from([member.readiness(day)], self.today)[0]))
        return answers[-1][1]


def _why_not(
    member: TeamMember,
    row: CrewDay,
    board: RosterBoard,
    placed: Mapping[tuple[int, date], Filled],
    out: Mapping[int, frozenset[date]],
    ahead: _Ahead,
) -> WhyNot:
    day = row.outing.date
    if held := member.assigned.get(day):
        words = _("on the outing to %(area)s as %(role)s")
        return WhyNot(member, words % {"area": held.outing.area, "role": held.get_role_display()})
    if place := placed.get((member.person.pk, day)):
        words = _("proposed as %(role)s that day")
        return WhyNot(member, words % {"role": CrewRole(place.role).label})
    if not member.clear_on(day):
        then = ahead.of(member, day)
        words = " ".join((*member.readiness(day).words, then.words))
        return WhyNot(member, words, clear=False, clear_from=then.on)
    if member.wish(day) == DayWish.Kind.CANNOT:
        return WhyNot(member, _("can't come that day"))
    if misses_day_off(out[member.person.pk], day, board.rest):
        return WhyNot(
            member, _("needs a day off: %(days)s days in a row at most") % {"days": board.rest.longest_run}
        )
    return WhyNot(member, _("clear and free on %(day)s") % {"day": date_format(day)})
