"""The outbox under faults, with real processes and a real mail server.

    python -m tests.faults.outbox_faults                       a minute: what CI runs
    python -m tests.faults.outbox_faults --long                10,000 mails without and with faults

The engine is that of DATABASE_URL (a database of its own is made beside it) and REDIS_URL (only that
number is flushed); without them SQLite and the folder broker. First nothing is wrong and every mail must
leave exactly once; then processes are killed and frozen, Redis is emptied, database connections are cut and
the mail server misbehaves. Nothing may be lost; extra copies are counted and each has the Message-ID of the
first. Exit 1 when a promise is broken.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import django
import redis
from django.db import connection

from tests.faults.stage import Stage, say


@dataclass
class Tally:
    """What was done to the service, and how many extra copies that may explain."""

    done: Counter[str] = field(default_factory=Counter)

    @property
    def copies_allowed(self) -> int:
        # One for each mail whose end the sender could not learn; a killed or cut process may hold two threads.
        return 2 * sum(self.done[name] for name in ("kill", "freeze", "cut", "drop-kept", "refuse", "hang"))


def add_notices(count: int, span: float, tag: str) -> list[str]:
    """`count` notices due over `span` seconds from now, a few of them to addresses that are refused for good."""
    from django.utils import timezone  # noqa: PLC0415  (Django is set up by main)

    from safety.models import Notice  # noqa: PLC0415
    from staff.models import Site  # noqa: PLC0415

    now, site = timezone.now(), Site.objects.get(code="hillside")
    rows = [
        Notice(
            key=f"{tag}-{n}",
            kind="roster-change",
            site=site,
            reference=f"{tag}{n}",
            path="/",
            audience="roster",
            email=f"{'refused' if n % 50 == 7 else 'reader'}-{n}@example.org",
            send_on=now.date(),
            send_hour=0,
            zone=site.time_zone,
            when_on=now.date(),
            due_at=now,
            next_try_at=now + timedelta(seconds=span * n / count),
            message_id=f"<{tag}-{n}@faults>",
            created_at=now,
        )
        for n in range(count)
    ]
    Notice.objects.bulk_create(rows, batch_size=500)
    return [row.message_id for row in rows]


def prepare() -> None:
    """Migrate, and lay a site with two officers, a liaison and a course whose notices are due."""
    from django.core.management import call_command  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from staff.models import SiteRole  # noqa: PLC0415
    from tests.factories import make_team, make_user  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    team = make_team(timezone.now())
    make_user("deputy", team.site, SiteRole.Role.OFFICER)


def still_open() -> int:
    from safety.models import Notice  # noqa: PLC0415

    return Notice.objects.filter(state__in=["waiting", "claimed", "gathered"]).count()


def wait_until_empty(seconds: float) -> float:
    started = time.monotonic()
    while still_open() and time.monotonic() - started < seconds:
        time.sleep(0.3)
    return time.monotonic() - started


def verdict(stage: Stage, tag: str, wanted: list[str], copies_allowed: int) -> bool:
    """Compare the sets of Message-IDs of the table and of the sink; print the figures."""
    from safety.models import Notice, NoticeEvent  # noqa: PLC0415

    taken = stage.taken()
    rows = {row.message_id: row for row in Notice.objects.all()}
    copies = Counter(mail["message_id"] for mail in taken)
    refused = {key for key, row in rows.items() if "refused" in row.email}
    lost = [key for key in rows if key not in refused and not copies[key]]
    unsaid = [key for key in rows if key not in refused and rows[key].state != "sent"]
    not_failed = [key for key in refused if rows[key].state != "failed"]
    untold = [
        key
        for key in refused
        if not Notice.objects.filter(key__startswith=f"undelivered-{rows[key].pk}:").exists()
    ]
    strangers = [key for key in copies if key not in rows]
    own = {key: count for key, count in copies.items() if key in set(wanted)}
    doubles = sum(count - 1 for count in own.values())
    by_subject: dict[str, set[str]] = {}
    for mail in taken:
        by_subject.setdefault(f"{mail['subject']} {mail['to']}", set()).add(mail["message_id"])
    other_id = [
        subject for subject, ids in by_subject.items() if len(ids) > 1 and "Not delivered" not in subject
    ]
    taken_over = NoticeEvent.objects.filter(why__contains="lease lapsed", notice__key__startswith=tag).count()
    last = max((mail["at"] for mail in taken), default=0.0)
    say(
        f"{tag}: {len(wanted)} notices, {len(own)} left, {doubles} extra copies (allowed {copies_allowed}), "
        f"{len(lost)} lost, {len(unsaid)} not noted as sent, {taken_over} leases taken over, "
        f"{len(refused)} refused for good ({len(untold)} untold), last mail at {time.strftime('%H:%M:%S', time.localtime(last))}"
    )
    wrong = {
        "lost": lost,
        "not noted as sent": unsaid,
        "refused but not failed": not_failed,
        "refused and nobody told": untold,
        "not ours": strangers,
        "same mail, other Message-ID": other_id,
    }
    for what, which in wrong.items():
        if which:
            say(f"  {what}: {which[:5]}")
    return not any(wrong.values()) and doubles <= copies_allowed


def chaos(stage: Stage, plan: list[str], span: float, tally: Tally, dice: random.Random) -> None:
    """Do what `plan` lists, spread over `span` seconds; the mail server misbehaves meanwhile."""
    senders = [name for name in stage.children if name != "sink"]
    acts: dict[str, Callable[[], None]] = {
        "kill": lambda: _kill(stage, dice.choice(senders)),
        "freeze": lambda: _freeze(stage, dice.choice(senders)),
        "flush": lambda: redis.Redis.from_url(os.environ["REDIS_URL"]).flushdb() and None,
        "cut": stage.cut_database_connections,
        "refuse": lambda: _restart_sink(stage),
    }
    for act in plan:
        time.sleep(span / len(plan) * dice.uniform(0.5, 1.5))
        _thaw(stage)
        if act in acts:
            acts[act]()
        else:
            stage.manners(act)
            time.sleep(0.4)
            stage.manners("ok")
        tally.done[act] += 1
    connection.close()  # ours was cut with the others
    tally.done["drop-kept"] = sum(mail["manners"] == "drop-kept" for mail in stage.taken())
    time.sleep(stage.lease_seconds + 1)
    _thaw(stage)


def _kill(stage: Stage, name: str) -> None:
    stage.kill(name)
    stage.start(name)


_frozen: dict[str, float] = {}


def _freeze(stage: Stage, name: str) -> None:
    _frozen.setdefault(name, time.monotonic())
    stage.freeze(name, frozen=True)


def _thaw(stage: Stage) -> None:
    """Wake those that have slept past their lease."""
    for name, since in list(_frozen.items()):
        if time.monotonic() - since > stage.lease_seconds + 0.5:
            stage.freeze(name, frozen=False)
            del _frozen[name]


def _restart_sink(stage: Stage) -> None:
    stage.kill("sink")
    time.sleep(0.5)
    stage.start("sink")
    stage.wait_for_sink()


def plan_of(options: argparse.Namespace, dice: random.Random) -> list[str]:
    plan = ["kill"] * options.kills + ["freeze"] * options.freezes + ["refuse"] * options.refusals
    plan += ["4xx", "hang", "drop", "drop-kept", "reset"] * options.manners
    plan += ["flush"] * options.flushes if os.environ.get("REDIS_URL") else []
    plan += ["cut"] * options.cuts if os.environ.get("DATABASE_URL") else []
    dice.shuffle(plan)
    return plan


def parse(arguments: list[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("--long", action="store_true", help="the figures of the promise")
    parser.add_argument("--seed", type=int, default=315)
    for name, short, long in FIGURES:
        parser.add_argument(
            f"--{name}", type=float if name == "span" else int, help=f"{short}; --long: {long}"
        )
    options = parser.parse_args(arguments)
    for name, short, long in FIGURES:
        if getattr(options, name) is None:
            setattr(options, name, long if options.long else short)
    return options


# Name, figure of the short form, figure of --long. `span`: seconds over which the faults are spread.
FIGURES: tuple[tuple[str, int, int], ...] = (
    ("notices", 200, 10_000),
    ("kills", 5, 200),
    ("freezes", 1, 10),
    ("refusals", 1, 10),
    ("manners", 1, 8),
    ("flushes", 2, 20),
    ("cuts", 2, 10),
    ("span", 14, 500),
)


def run(options: argparse.Namespace, stage: Stage) -> bool:
    dice, tally = random.Random(options.seed), Tally()
    prepare()
    stage.start_sink(seconds_a_mail=0.02)
    stage.start_senders()
    engine = "PostgreSQL" if stage.database else "SQLite"
    say(f"{engine}, {'Redis' if os.environ.get('REDIS_URL') else 'folder'} broker, seed {options.seed}")
    started = time.monotonic()
    calm = add_notices(options.notices, 2, "Calm")
    say(
        f"without a fault: outbox empty after {_after(started, options):.0f} s, start of all processes included"
    )
    good = verdict(stage, "Calm", calm, copies_allowed=0)
    stormy = add_notices(options.notices, options.span, "Storm")
    chaos(stage, plan_of(options, dice), options.span, tally, dice)
    say(
        f"faults: {dict(tally.done)}; empty {wait_until_empty(90 + options.notices / 4):.0f} s after the last"
    )
    return verdict(stage, "Storm", stormy, tally.copies_allowed) and good


def _after(started: float, options: argparse.Namespace) -> float:
    wait_until_empty(60 + options.notices / 4)
    return time.monotonic() - started


def main(arguments: list[str] | None = None) -> int:
    options: Any = parse(arguments)
    with Stage() as stage:
        django.setup()
        good = run(options, stage)
        if not good:
            for log in sorted(stage.folder.glob("*.log")):
                say(f"--- {log.name}\n{log.read_text(errors='replace')[-1500:]}")
    say("kept" if good else "BROKEN")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
