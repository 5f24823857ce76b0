"""Forced races for the roster: one side puts a person on it, the other takes away what allows it.

    python -m tests.faults.roster_races --rounds 1000

Each round sets up a cleared person and an outing, then two threads (each with its own connection) meet at a
barrier and go. The engine is that of DATABASE_URL, in a database of its own; SQLite in a temporary folder
without it. Nobody uncleared may be on a roster afterwards, no refusal may be anything but a sentence of the
services (or, for raw SQL, of the guards), and each removal must have left its withdrawal. Exit 1 otherwise.

Measured, busy: 1,000 rounds of 30 pairings, raw SQL, moves and proposals among them, 727 s on SQLite, 646 s on PostgreSQL.
"""

from __future__ import annotations

import argparse
import random
import sys
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

import django

from tests.faults.sides import PAIRS, RAW, Act, Scene, set_up
from tests.faults.stage import Stage, say

if TYPE_CHECKING:
    from tests.factories import Team


@dataclass
class Tally:
    counts: Counter[str] = field(default_factory=Counter)
    broken: list[str] = field(default_factory=list)

    def add(self, what: str) -> None:
        self.counts[what] += 1


def play(scene: Scene, pair: tuple[Act, Act], tally: Tally, dice: random.Random) -> None:
    """Both sides at once, with a random head start of up to 3 ms for either."""
    barrier = threading.Barrier(2)
    starts = [dice.choice((0.0, dice.random() * 0.003)) for _ in pair]
    sides = [
        threading.Thread(target=_side, args=(scene, act, barrier, wait, tally))
        for act, wait in zip(pair, starts, strict=True)
    ]
    for side in sides:
        side.start()
    for side in sides:
        side.join()


def _side(scene: Scene, act: Act, barrier: threading.Barrier, wait: float, tally: Tally) -> None:
    from django.db import IntegrityError, connection  # noqa: PLC0415

    from staff.ground.errors import Refused  # noqa: PLC0415

    try:
        connection.ensure_connection()
        barrier.wait(timeout=30)
        time.sleep(wait)
        act(scene)
        tally.add(f"{act.__name__} done")
    except Refused as refused:
        tally.add(f"{act.__name__} refused: {refused.code}")
        if (
            not refused.message.strip()
            or "clear for field work" in refused.message
            and not refused.fields["person"]
        ):
            tally.broken.append(f"{act.__name__} refused without a reason: {refused.message!r}")
    except IntegrityError as error:
        words = ("not-cleared", "booked-twice", "FOREIGN KEY", "foreign key")
        if act in RAW and any(word in str(error) for word in words):
            tally.add(f"{act.__name__} refused by the database")
        else:
            tally.broken.append(f"{act.__name__}: {type(error).__name__}: {error}")
    except Exception as error:  # noqa: BLE001  (anything else is a finding; it is printed and fails the run)
        tally.broken.append(f"{act.__name__}: {type(error).__name__}: {error}")
    finally:
        connection.close()


def uncleared(team: Team) -> list[str]:
    """Everybody on a coming roster whom the record, read afresh, does not clear for that day; or whose row is out of joint."""
    from django.db.models import F  # noqa: PLC0415

    from staff.models import Assignment  # noqa: PLC0415
    from staff.rules.record.intervals import covers  # noqa: PLC0415
    from staff.selectors.record.records import clearance_of  # noqa: PLC0415

    found = [
        f"assignment {row.pk} of {row.person} on {row.outing}"
        for row in Assignment.objects.filter(outing__site=team.site).select_related(
            "outing", "clearance", "person__site__rules"
        )
        if not covers(clearance_of(row.person).intervals, row.outing.date)
        or row.clearance.superseded_on is not None
        or row.outing.cancelled_at is not None
    ]
    torn = Assignment.objects.exclude(crew__outing=F("outing")) | Assignment.objects.exclude(
        clearance__person=F("person")
    )
    return found + [f"torn row {row.pk}" for row in torn]


def booked_twice(team: Team) -> list[str]:
    """People who are on two outings of one date."""
    from staff.models import Assignment  # noqa: PLC0415

    rows = Assignment.objects.filter(outing__site=team.site).values_list("person__number", "outing__date")
    return [f"{number} twice on {day}" for (number, day), count in Counter(rows).items() if count > 1]


def unaccounted(team: Team) -> list[str]:
    """Assignments the audit trail says were made which are neither there nor withdrawn, once each."""
    from staff.models import Assignment, AuditEntry, Withdrawal  # noqa: PLC0415

    found = []
    filled = Counter(
        row[0]
        for entry in AuditEntry.objects.filter(action="roster.filled", site=team.site)
        for row in entry.detail["people"]
    )
    for outing in team.site.outings.all():
        made = AuditEntry.objects.filter(action="roster.assigned", target=f"outing:{outing.pk}").count()
        made += filled[outing.pk]
        raw = Assignment.objects.filter(outing=outing, role="catcher").count()
        kept = Assignment.objects.filter(outing=outing).count()
        gone = Withdrawal.objects.filter(outing=outing).values("person").distinct().count()
        rows = Withdrawal.objects.filter(outing=outing).count()
        if rows != gone or kept + gone < made or kept + gone > made + max(raw, gone):
            found.append(
                f"outing {outing.pk}: {made} put on, {kept} there, {rows} withdrawals of {gone} people"
            )
    return found


def mismatched(team: Team) -> list[str]:
    """People whose stored clearance isn't what the record gives."""
    from staff.models import Person  # noqa: PLC0415
    from staff.selectors.record.records import clearance_of  # noqa: PLC0415

    return [
        str(person.number)
        for person in Person.objects.filter(site=team.site).select_related("site__rules")
        if {row.as_interval() for row in person.clearances.filter(superseded_on__isnull=True)}
        != set(clearance_of(person).intervals)
    ]


def out_of_joint(team: Team, now: datetime) -> list[str]:
    """What is wrong: nobody uncleared while a change of rules still recomputes, nor anything once it has."""
    from staff.services.record.recompute import recompute_catch_up  # noqa: PLC0415

    found = uncleared(team)
    recompute_catch_up(now=now)
    return found + uncleared(team) + booked_twice(team) + mismatched(team) + unaccounted(team)


def deadlocks() -> int | None:
    """How many the engine has broken up in this database; SQLite counts none."""
    from django.db import connection  # noqa: PLC0415

    if connection.vendor != "postgresql":
        return None
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_clear_snapshot()")
        cursor.execute("SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()")
        return int(cursor.fetchone()[0])


def run(rounds: int, seed: int) -> bool:
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import connection  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from staff.models import Assignment, Withdrawal  # noqa: PLC0415
    from tests.factories import make_team  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    dice, tally, now, left, teams = random.Random(seed), Tally(), timezone.now(), [], 0
    started = time.monotonic()
    team = make_team(now)
    for number in range(rounds):
        play(set_up(team, number, now), PAIRS[number % len(PAIRS)], tally, dice)
        # Few people at the site at a time: a change of rules looks at all of them.
        if (number + 1) % 40 == 0 or number + 1 == rounds:
            left += out_of_joint(team, now)
            _retire_site(team, now)
            teams += 1
    time.sleep(0.6)  # PostgreSQL's counters lag a little
    say(f"{connection.vendor}: {rounds} rounds in {time.monotonic() - started:.0f} s, seed {seed}")
    for what, count in sorted(tally.counts.items()):
        say(f"  {what}: {count}")
    say(
        f"assigned {Assignment.objects.count()}, withdrawn {Withdrawal.objects.count()}, "
        f"uncleared or out of joint {len(left)}, deadlocks broken up {deadlocks()}, other errors {len(tally.broken)}"
    )
    for line in (*left[:10], *tally.broken[:10]):
        say(f"  {line}")
    return not left and not tally.broken


def _retire_site(team: Team, now: datetime) -> None:
    """Give the next rounds a site of their own: the people of the last ones move to none of its queries."""
    from tests.factories import PRE_EXPOSURE, approve, make_site  # noqa: PLC0415

    team.site = make_site(f"site-{team.site.pk}-next")
    approve(team.site, team.officer, PRE_EXPOSURE)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Forced races for the roster.")
    parser.add_argument("--rounds", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=315)
    options: Any = parser.parse_args(arguments)
    with Stage():
        django.setup()
        from django.db import connections  # noqa: PLC0415

        good = run(options.rounds, options.seed)
        connections.close_all()
    say("kept" if good else "BROKEN")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
