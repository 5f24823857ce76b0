"""What is done to the service while it sends: processes, servers, files and conversations are ended at every step."""

from __future__ import annotations

import argparse
import os
import random
import time
from collections.abc import Callable

import redis
from django.db import connection

from tests.faults.proxy import MANNERS
from tests.faults.stage import Stage
from tests.faults.verdict import Tally

# Seconds for which the proxy keeps its manners, Redis stays away and a SQLite file stays locked.
RUDE_SECONDS = 0.5
REDIS_AWAY_SECONDS = (0.5, 4.0)
LOCK_SECONDS = 8


def plan_of(options: argparse.Namespace, stage: Stage, dice: random.Random) -> list[str]:
    """Every fault as often as asked and as this engine and broker know it, in a random order."""
    plan = ["kill"] * options.kills + ["freeze"] * options.freezes
    plan += [manners for manners in MANNERS for _time in range(options.manners)]
    if os.environ.get("REDIS_URL"):
        plan += ["flush"] * options.flushes
    if stage.redis:
        plan += ["redis-stop"] * options.stops
    if stage.database:
        plan += ["cut"] * options.cuts
    if stage.postgres:
        plan += ["restart"] * options.stops
    if stage.sqlite_file:
        plan += ["lock"] * options.locks + ["torn"] * options.stops
    dice.shuffle(plan)
    return plan


class Storm:
    def __init__(self, stage: Stage, dice: random.Random) -> None:
        self.stage, self.dice, self.tally = stage, dice, Tally()
        self.frozen: dict[str, float] = {}
        self.acts: dict[str, Callable[[], object]] = {
            "kill": self.kill,
            "freeze": self.freeze,
            "flush": lambda: redis.Redis.from_url(os.environ["REDIS_URL"]).flushdb(),
            "redis-stop": self.stop_redis,
            "cut": stage.cut_database_connections,
            "restart": self.restart_postgres,
            "lock": lambda: self.lock(LOCK_SECONDS),
            "torn": self.tear,
        }

    def play(self, plan: list[str], span: float) -> None:
        """Do what `plan` lists, spread over about `span` seconds."""
        started = time.monotonic()
        for turn, act in enumerate(plan):
            due = started + span * (turn + self.dice.uniform(0.2, 0.8)) / len(plan)
            time.sleep(max(0.0, due - time.monotonic()))
            self.thaw()
            self.acts.get(act, lambda act=act: self.be_rude(act))()
            self.tally.done[act] += 1
        connection.close()  # ours was cut with the others
        time.sleep(self.stage.lease_seconds + 1)
        self.thaw()
        self.tally.unanswered = self.stage.unanswered()

    def be_rude(self, manners: str) -> None:
        self.stage.manners(manners)
        time.sleep(RUDE_SECONDS)
        self.stage.manners("ok")

    def kill(self) -> None:
        name = self.dice.choice(self.stage.senders())
        self.stage.kill(name)
        self.stage.start(name)

    def freeze(self) -> None:
        name = self.dice.choice(self.stage.senders())
        self.frozen.setdefault(name, time.monotonic())
        self.stage.freeze(name, frozen=True)

    def thaw(self) -> None:
        """Wake those that have slept past their lease."""
        for name, since in list(self.frozen.items()):
            if time.monotonic() - since > self.stage.lease_seconds + 0.5:
                self.stage.freeze(name, frozen=False)
                del self.frozen[name]

    def stop_redis(self) -> None:
        assert self.stage.redis
        self.stage.redis.stop(hard=self.tally.done["redis-stop"] % 2 == 0)
        time.sleep(self.dice.uniform(*REDIS_AWAY_SECONDS))
        self.stage.redis.start()

    def restart_postgres(self) -> None:
        assert self.stage.postgres
        hard = self.tally.done["restart"] % 2 == 0
        self.stage.postgres.restart(hard=hard, down_seconds=self.dice.uniform(0, 2))

    def lock(self, seconds: float) -> str:
        """Another process takes SQLite's write lock; returns its name among the stage's children."""
        name = "locker"
        if name in self.stage.children:
            self.stage.kill(name)
        self.stage.start(name, "-m", "tests.faults.locker", str(self.stage.sqlite_file), str(seconds))
        return name

    def tear(self) -> None:
        """kill -9 of a process that has written into the file and not committed."""
        name = self.lock(LOCK_SECONDS)
        time.sleep(self.dice.uniform(0.3, 1.5))
        self.stage.kill(name)
