"""The outbox under faults, with real processes, real servers and a real mail server behind a proxy of our own.

    python -m tests.faults.outbox_faults                       a minute: what CI runs
    python -m tests.faults.outbox_faults --own                 the same on a PostgreSQL and a Redis of its own, stopped too
    python -m tests.faults.outbox_faults --long [--own]        the figures of the promise, about half an hour

Without --own the engine is that of DATABASE_URL (a database of its own is made beside it) and REDIS_URL (only
that number is flushed); without them SQLite and the folder broker. First nothing is wrong and every mail must
leave exactly once; then processes are killed and frozen, servers are stopped, a SQLite file is locked and its
writer killed, and the proxy misbehaves at every step of SMTP. At last (--long) one worker shows, under the
service's own lease and tick, how long a notice waits after a kill and after the broker lost everything. Nothing
may be lost; extra copies are counted and each has the Message-ID of the first. The clock isn't set back and forth
here, for that takes the whole machine; tests/faults/test_clock_steps.py does it to the service. Exit 1 when a promise
is broken.

The lease is shortened to 6 s but in the calm run and the one that says so. Measured with --long, before mails shared
one: with 200 kills, 20 flushes and 10 stops of Redis, 10 restarts of PostgreSQL, 10 cuts, 10 freezes (SQLite: 10 locks of
8 s, 10 writers killed) and every manner of a rude server 8 times, nobody was left untold of 400 refusals, and no mail
had more than 2 copies. Redis emptied, stopped, gone for good: mail left after 18 to 25, 3 to 18 and 12 s; the folder
broker emptied: 29 to 30 s (60 allowed). A mail killed at 14 points (crash.py): one copy before the dot, two from the dot to
the settle, one after.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import time
from datetime import timedelta

import django

from tests.faults.stage import Stage, say
from tests.faults.storm import Storm, plan_of
from tests.faults.timely import LEASE_SECONDS, timely
from tests.faults.verdict import Tally, verdict


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


def parse(arguments: list[str] | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("--long", action="store_true", help="the figures of the promise")
    parser.add_argument("--own", action="store_true", help="a PostgreSQL and a Redis of its own, stopped too")
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


# Name, figure of the short form, figure of --long. `span`: seconds over which the faults are spread; `manners`: times
# for each of the proxy's; `stops`: of Redis and of PostgreSQL, or of a writer of SQLite; `locks`: of 8 s.
FIGURES: tuple[tuple[str, int, int], ...] = (
    ("notices", 200, 10_000),
    ("kills", 5, 200),
    ("freezes", 1, 10),
    ("manners", 1, 8),
    ("flushes", 2, 20),
    ("stops", 1, 10),
    ("locks", 0, 10),
    ("cuts", 2, 10),
    ("span", 14, 900),
)


def run(options: argparse.Namespace, stage: Stage) -> bool:
    dice = random.Random(options.seed)
    prepare()
    stage.start_sink(seconds_a_mail=0.02)
    engine = "PostgreSQL" if stage.database else "SQLite"
    say(f"{engine}, {'Redis' if os.environ.get('REDIS_URL') else 'folder'} broker, seed {options.seed}")
    good = calm(options, stage)
    good &= stormy(options, stage, Storm(stage, dice), dice)
    return good and (not options.long or timely(stage, add_notices))


def calm(options: argparse.Namespace, stage: Stage) -> bool:
    if options.long:
        stage.use_lease(LEASE_SECONDS)
    stage.start_senders()
    wanted = add_notices(options.notices, 2, "Calm")
    seconds = wait_until_empty(60 + options.notices / 2)
    say(f"without a fault: outbox empty after {seconds:.0f} s, start of all processes included")
    return verdict(stage, "Calm", wanted, Tally())


def stormy(options: argparse.Namespace, stage: Stage, storm: Storm, dice: random.Random) -> bool:
    if options.long:
        stage.use_lease(6)
        for name in stage.senders():
            stage.kill(name)
            stage.start(name)
    wanted = add_notices(options.notices, options.span, "Storm")
    storm.play(plan_of(options, stage, dice), options.span)
    seconds = wait_until_empty(90 + options.notices / 4)
    say(f"faults: {dict(sorted(storm.tally.done.items()))}; empty {seconds:.0f} s after the last")
    return verdict(stage, "Storm", wanted, storm.tally)


def main(arguments: list[str] | None = None) -> int:
    options = parse(arguments)
    with Stage(own_servers=options.own) as stage:
        django.setup()
        good = run(options, stage)
        if not good:
            for log in sorted(stage.folder.glob("*.log")):
                say(f"--- {log.name}\n{log.read_text(errors='replace')[-1500:]}")
    say("kept" if good else "BROKEN")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
