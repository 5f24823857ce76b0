"""What is planned in the simulated year, what was done, and the raw events of it."""

from __future__ import annotations

import heapq
import itertools
from collections import Counter
from collections.abc import Callable
from datetime import date, datetime, timedelta
from random import Random

from staff.ground.errors import Refused
from tests.faults.year_check import Event
from tests.faults.year_world import Place

DAY, HOUR, MINUTE = timedelta(days=1), timedelta(hours=1), timedelta(minutes=1)


class Agenda:
    def __init__(self, places: list[Place], first: date, days: int, dice: Random) -> None:
        self.places, self.first, self.days, self.dice = places, first, days, dice
        self.turns = itertools.count()
        self.agenda: list[tuple[datetime, int, Callable[[datetime], object]]] = []
        self.events: list[Event] = []
        # Instants at which a change has to wait for the tick, for nobody rings after it.
        self.ticks: set[datetime] = set()
        self.tally: Counter[str] = Counter()

    def plan(self, at: datetime, act: Callable[[datetime], object]) -> None:
        heapq.heappush(self.agenda, (at, next(self.turns), act))

    def day_turns(self, at: datetime) -> None:
        """Somewhere it is the hour of reminders."""
        self.ticks.add(at)
        self.plan(at, lambda _now: None)

    def due(self, by: datetime) -> bool:
        return bool(self.agenda) and self.agenda[0][0] <= by

    def play(self, now: datetime) -> bool:
        """Do everything planned for `now`; whether any of it changed something."""
        before = self.tally.total()
        while self.due(now):
            heapq.heappop(self.agenda)[2](now)
        return self.tally.total() > before

    def attempt(self, what: str, act: Callable[[], object]) -> Refused | None:
        """The refusal if the service refused, which is part of life and counted by its code."""
        try:
            act()
        except Refused as refused:
            self.tally[f"refused: {what} ({refused.code})"] += 1
            return refused
        self.tally[what] += 1
        return None
