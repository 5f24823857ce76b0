"""How long the proposal of a roster takes, for teams of 20, 60 and 200 people over 14 days.

    python3 -m tests.bench.roster

Invented teams: a crew of 3, 4 or 7 for each 15 people each day, one to three crew roles a person, a tenth not clear at
all, some clear only later, some days asked for. Each proposal is checked by tests.staff.planning.roster_checks;
exits with 1 when one breaks a rule.
"""

from __future__ import annotations

import sys
import time
from datetime import date, timedelta
from random import Random

from staff.planning.roster import plan_roster
from staff.planning.roster_values import Candidate, OpenCrew
from staff.rules.outing.crew_shape import SHIPPED
from staff.rules.outing.rest_days import RestRules
from tests.staff.planning.roster_checks import faults

DAYS = tuple(date(2028, 2, 21) + timedelta(days=number) for number in range(14))
ROLES = ("catcher", "vaccinator", "recorder", "driver", "lead")
WEEKLY = RestRules(longest_run=6, rest_days=1)


def team(people: int, seed: int) -> tuple[list[OpenCrew], list[Candidate]]:
    rng, shapes = Random(seed), list(SHIPPED.values())
    lanes = max(2, people // 15)
    crews = [
        OpenCrew(lanes * number + lane, day, f"lane {lane}", shapes[lane % len(shapes)])
        for number, day in enumerate(DAYS)
        for lane in range(lanes)
    ]
    return crews, [_candidate(key, rng) for key in range(people)]


def _candidate(key: int, rng: Random) -> Candidate:
    free = DAYS[rng.choice((0, 0, 0, 3, 7)) :] if rng.random() < 0.9 else ()
    wishes = [frozenset(rng.sample(DAYS, 2)) if rng.random() < share else frozenset() for share in (0.3, 0.2)]
    roles = frozenset(rng.sample(ROLES, rng.choice((1, 2, 2, 3))))
    return Candidate(key, roles, frozenset(free), rather_not=wishes[0], gladly=wishes[1])


def main() -> int:
    good = True
    for people in (20, 60, 200):
        crews, candidates = team(people, seed=315)
        began = time.monotonic()
        plan = plan_roster(crews=crews, people=candidates, rest=WEEKLY)
        took = time.monotonic() - began
        wrong = faults(plan, crews, candidates, WEEKLY)
        places = sum(sum(crew.lacks.values()) for crew in crews)
        print(
            f"{people} people, {len(crews)} crews, {places} places: {took:.1f} s, {len(plan.filled)} filled, "
            f"{len(plan.open)} crews short, {'proven best' if plan.proven else 'not proven best'}, {len(wrong)} faults"
        )
        good = good and not wrong
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
