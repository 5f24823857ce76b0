"""How long a notice waits for its turn, by the sink's timestamps, under the service's own lease, tick and mail time-out.

One worker and one clock; the loop that needs no broker only where Redis stays away for good.
"""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable, Iterable

import redis

from tests.faults.stage import Stage, say
from tests.faults.storm import REDIS_AWAY_SECONDS

LEASE_SECONDS, TICK_SECONDS, MAIL_SECONDS = 105, 30, 20
# The promises: from the kill, and from the moment a notice is due or Redis is back.
AFTER_A_KILL, AFTER_REDIS = 150, 60
ROUNDS = 3

AddNotices = Callable[[int, float, str], list[str]]


def timely(stage: Stage, add: AddNotices) -> bool:
    for name in stage.senders():
        stage.kill(name)
    stage.use_lease(LEASE_SECONDS, tick=TICK_SECONDS, mail_timeout=MAIL_SECONDS)
    stage.start_senders(pairs=1)
    stage.kill("loop1")
    _left(stage, add(1, 0, "Ready"))
    say(f"lease {LEASE_SECONDS} s, tick {TICK_SECONDS} s, one worker, one clock:")
    killed = [_killed_worker(stage, add, n) for n in range(ROUNDS)]
    good = _judge("rows of a killed worker, from the kill", killed, AFTER_A_KILL)
    flushed = [_emptied(stage, add, n) for n in range(ROUNDS)]
    good &= _judge("broker emptied when they were due", flushed, AFTER_REDIS)
    if stage.redis:
        stopped = [_stopped(stage, add, n) for n in range(ROUNDS)]
        good &= _judge("Redis stopped for a while, from its return", stopped, AFTER_REDIS)
        good &= _judge("Redis gone for good, the loop alone", [_gone(stage, add)], AFTER_REDIS)
    return good


def _judge(what: str, seconds: Iterable[float], allowed: float) -> bool:
    found = sorted(seconds)
    say(f"  {what}: {', '.join(f'{s:.0f}' for s in found)} s (allowed {allowed})")
    return found[-1] <= allowed


def _left(stage: Stage, ids: Iterable[str], patience: float = 300) -> float:
    """When the last of `ids` was taken, by the sink's clock; infinity when it wasn't in time."""
    wanted, deadline = set(ids), time.monotonic() + patience
    while time.monotonic() < deadline:
        at = {mail["message_id"]: mail["at"] for mail in stage.taken() if mail["message_id"] in wanted}
        if len(at) == len(wanted):
            return float(max(at.values()))
        time.sleep(1)
    return float("inf")


def _killed_worker(stage: Stage, add: AddNotices, turn: int) -> float:
    """The worker holds two rows and hangs at the mail server when it is killed; another one is started at once."""
    from safety.models import Notice  # noqa: PLC0415  (Django is set up by main)

    stage.manners("hang-mail")
    add(6, 0, f"Killed{turn}-")
    held: list[str] = []
    while not held:
        time.sleep(0.2)
        held = list(Notice.objects.filter(state=Notice.State.CLAIMED).values_list("message_id", flat=True))
    stage.kill("worker1")
    killed = time.time()
    stage.manners("ok")
    stage.start("worker1")
    return _left(stage, held) - killed


def _emptied(stage: Stage, add: AddNotices, turn: int) -> float:
    """The broker is emptied over and over from when they are due until a tick must have come."""
    due = time.time()
    ids = add(6, 0, f"Emptied{turn}-")
    for _time in range(3):
        if url := os.environ.get("REDIS_URL"):
            redis.Redis.from_url(url).flushall()
        else:
            for waiting in (stage.folder / "broker" / "queue").glob("*"):
                shutil.rmtree(waiting) if waiting.is_dir() else waiting.unlink(missing_ok=True)
        time.sleep(2)
    return _left(stage, ids) - due


def _stopped(stage: Stage, add: AddNotices, turn: int) -> float:
    assert stage.redis
    stage.redis.stop(hard=turn % 2 == 0)
    ids = add(6, 0, f"Stopped{turn}-")
    time.sleep(10 * max(REDIS_AWAY_SECONDS))
    stage.redis.start()
    back = time.time()
    return _left(stage, ids) - back


def _gone(stage: Stage, add: AddNotices) -> float:
    assert stage.redis
    stage.redis.stop(hard=True)
    due = time.time()
    ids = add(6, 0, "Gone-")
    stage.start("loop1", "-m", "django", "send_due", "--loop", str(TICK_SECONDS))
    return _left(stage, ids) - due
