"""The doses a plan proposes and the rules of clearance say the same: with them complete, with one fewer not.

Random records and regimens, a change of route accepted or not; judged by `find_completions`, which clearance uses.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from staff.planning.sessions import MissingDose, Need, plan_sessions
from staff.rules.record.clearance import evaluate_clearance
from staff.rules.record.facts import ClearanceRules, PersonFacts
from staff.rules.record.immunity import find_completions, qualifying_regimens, series_routes
from staff.rules.record.missing import remaining_doses
from staff.rules.record.outlook import Way, earliest_clear
from staff.rules.regimen.values import DoseFact, Purpose, Regimen, Route, Step
from tests.staff.rules.samples import on
from tests.staff.rules.strategies import dose_facts, regimens

# What is checked is the rules, not how busy the machine is.
BUSY_MACHINE = [HealthCheck.too_slow]
PURPOSES = st.sampled_from([Purpose.PRE_EXPOSURE] * 5 + [Purpose.BOOSTER])


@dataclass(frozen=True)
class Scene:
    """One person at a site whose plan goes by `approved[0]`, on the day after everything on record or on that day."""

    doses: tuple[DoseFact, ...]
    approved: tuple[Regimen, ...]
    rules: ClearanceRules
    route: Route
    today: date

    def complete(self, *added: DoseFact) -> bool:
        qualifying = qualifying_regimens(self.approved, self.rules.doses_required)
        return bool(
            find_completions(
                doses=(*self.doses, *added), qualifying=qualifying, post_exposure=(), rules=self.rules
            )
        )

    def way(self) -> Way:
        return earliest_clear(
            facts=PersonFacts(doses=self.doses),
            rules=self.rules,
            pre_exposure=self.approved,
            post_exposure=(),
            today=self.today,
            on=self.today,
            plan_by=self.approved[:1],
            route=self.route,
        )


@st.composite
def scenes(draw: st.DrawFn) -> Scene:
    drawn = draw(st.lists(regimens(), min_size=1, max_size=3))
    approved = tuple(replace(one, code=f"r{number}") for number, one in enumerate(drawn))
    doses = tuple(draw(st.lists(dose_facts(PURPOSES, last_day=20), max_size=4)))
    last = max((dose.given_on for dose in doses), default=on(0))
    rules = ClearanceRules(
        # The page refuses a campaign by a regimen with fewer doses than the site requires.
        doses_required=draw(st.integers(1, len(approved[0].primary_steps))),
        settling_days=draw(st.sampled_from([0, 0, 3])),
        mixed_routes=draw(st.booleans()),
    )
    return Scene(
        doses=doses,
        approved=approved,
        rules=rules,
        route=draw(st.sampled_from(sorted(approved[0].routes))),
        today=last + timedelta(days=draw(st.integers(0, 9))),
    )


def as_given(scene: Scene, way: Way) -> list[DoseFact]:
    return [
        DoseFact(dose.earliest_on, route=scene.route, injections=dose.injections)
        for dose in way.doses
        if dose.earliest_on is not None
    ]


@settings(max_examples=250, deadline=None, suppress_health_check=BUSY_MACHINE)
@given(scenes())
def test_with_the_proposed_doses_the_series_is_complete_and_with_one_fewer_it_isnt(scene: Scene) -> None:
    added = as_given(scene, scene.way())
    assert scene.complete() == (not added), "doses are proposed to whoever lacks some, and to nobody else"
    assert scene.complete(*added)
    for fewer in range(len(added)):
        assert not scene.complete(*added[:fewer])


@settings(max_examples=60, deadline=None, suppress_health_check=BUSY_MACHINE)
@given(scenes(), st.integers(0, 12))
def test_on_the_days_of_the_planned_sessions_too(scene: Scene, room: int) -> None:
    way = scene.way()
    assert way.clear_on is not None
    if not way.doses:
        return
    starts_on = way.clear_on + timedelta(days=room)
    first = way.doses[0].earliest_on
    assert first is not None
    need = Need(
        1,
        tuple(MissingDose(dose.number or 0, dose.gap, dose.injections) for dose in way.doses),
        first,
        starts_on - timedelta(days=scene.rules.settling_days),
    )
    days = [scene.today + timedelta(days=offset) for offset in range(80)]
    plan = plan_sessions(needs=[need], days=days, injections_per_vial=10)
    assert not plan.no_day
    added = [DoseFact(visit.on, route=scene.route, injections=visit.injections) for visit in plan.visits]
    assert not scene.complete(*added[:-1])
    judged = evaluate_clearance(
        facts=PersonFacts(doses=(*scene.doses, *added)),
        rules=scene.rules,
        pre_exposure=scene.approved,
        post_exposure=(),
    )
    assert any(one.name == "series" and not one.reasons_on(starts_on) for one in judged.conditions)


def three_visits(code: str, route: Route, *, later: bool = False) -> Regimen:
    """Days 0, 7 and 21, smallest gaps 7 and 14 (CDSi supporting data 4.64, antigen Rabies)."""
    steps = (Step(1, 0, 0, 0), Step(2, 7, 7, 7), Step(3, 21, 21, 14, later=later))
    return Regimen(code, 1, Purpose.PRE_EXPOSURE, frozenset({route}), steps)


SKIN, MUSCLE = three_visits("skin", Route.ID), three_visits("muscle", Route.IM)
TWO_INTO_THE_MUSCLE = (DoseFact(on(0), route=Route.IM), DoseFact(on(7), route=Route.IM))


def numbers(approved: tuple[Regimen, ...], *, mixed: bool) -> list[int | None]:
    rules = ClearanceRules(mixed_routes=mixed)
    scene = Scene(TWO_INTO_THE_MUSCLE, approved, rules, Route.ID, on(30))
    return [dose.number for dose in scene.way().doses]


def test_where_a_change_of_route_counts_only_the_third_dose_is_proposed() -> None:
    assert numbers((SKIN, MUSCLE), mixed=True) == [3]
    assert numbers((SKIN, MUSCLE), mixed=False) == [1, 2, 3]


def test_the_board_counts_the_same_doses_as_the_plan() -> None:
    for mixed, missing in ((True, [3]), (False, [1, 2, 3])):
        routes = series_routes(SKIN, (SKIN, MUSCLE), ClearanceRules(mixed_routes=mixed))
        shown = remaining_doses(TWO_INTO_THE_MUSCLE, SKIN, on(30), planned=True, other_routes=routes)
        assert [dose.number for dose in shown] == missing


def test_a_route_that_only_a_regimen_too_short_for_the_site_names_counts_for_no_plan() -> None:
    """Two doses and a later one are as many visits, yet fewer doses than the three that clearance asks for."""
    assert numbers((SKIN, three_visits("short", Route.IM, later=True)), mixed=True) == [1, 2, 3]


def test_the_board_shows_no_dose_on_the_day_of_another_one() -> None:
    """The record keeps one dose a person and day, so it couldn't be recorded."""
    booster = DoseFact(on(30), purpose=Purpose.BOOSTER)
    shown = remaining_doses((booster,), SKIN, on(30), planned=True)
    assert shown[0].due_on == on(31) and shown[0].latest_on == on(31)


def test_no_dose_is_proposed_for_the_day_of_a_booster_on_record() -> None:
    """The record keeps one dose a person and day, whatever its purpose."""
    booster = DoseFact(on(30), purpose=Purpose.BOOSTER)
    way = Scene((booster,), (SKIN,), ClearanceRules(), Route.ID, on(30)).way()
    assert [dose.earliest_on for dose in way.doses] == [on(31), on(38), on(52)]
