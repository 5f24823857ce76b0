"""Who is clear on a date, and recomputing everybody, beside bare SQL in the same run.

    python3 -m tests.bench.clearance [people, default 100000] [queries]

With `queries` the intervals are written in bulk instead of computed, and only the questions are timed: minutes
instead of a quarter of an hour.

The engine is that of DATABASE_URL, in a database of its own; without it SQLite in a temporary folder. Each
person has three doses; one site has 500 people, the others 5,000 each. Bare SQL does what the machine allows
at the least: the same people by a query written by hand; for the recompute, reading every dose and writing one
interval a person without judging anything. Prints a table; each query is the best of five.

Measured before the record was read once and in sets of dates, on 2 cores busy with other work (load 5 to 6), so the
ratios say more than the seconds. SQLite, bare, ratio; PostgreSQL, bare, ratio:

    clear on a date, one site of 500, stored     8.0 ms   0.5 ms  15      4.2 ms   18.0 ms  0.2
    the same with every reason judged afresh     357 ms   0.5 ms  667     386 ms   18.0 ms  21.4
    clear on a date, all 21 sites                104 ms   40 ms   2.6     123 ms   24 ms    5.2
    everybody recomputed, nothing stored         518 s    4.5 s   115     1,094 s  2.9 s    372
    everybody recomputed, every interval new     322 s    4.5 s   71      470 s    2.9 s    160
    rules changed at every site, all marked      27 s     4.5 s   6.1     5.7 s    2.9 s    1.9

On PostgreSQL the hand-written query of the first row got the worse plan of the two. 6,000 people before and after, in
one sitting: nothing stored 36.7 and 28.7 s (PostgreSQL 43.4 and 21.9 s), every interval new 45.3 and 24.2 s (56.1 and
17.9 s); processor time of 2,000 people 6.2 and 3.6 s.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import django

from tests.faults.stage import Stage, say

SMALL, LARGE = 500, 5000
NOW = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
ON = date(2026, 3, 2)

CLEAR_AT_SITE = """
    SELECT p.id, p.number, p.name FROM staff_person p JOIN staff_clearance c ON c.person_id = p.id
    WHERE p.site_id = %s AND c.superseded_on IS NULL AND c.starts_on <= %s
    AND (c.ends_on IS NULL OR c.ends_on >= %s) ORDER BY p.name, p.number"""
CLEAR_ANYWHERE = """
    SELECT count(*) FROM staff_person p JOIN staff_clearance c ON c.person_id = p.id
    WHERE c.superseded_on IS NULL AND c.starts_on <= %s AND (c.ends_on IS NULL OR c.ends_on >= %s)"""


def fill(people: int) -> None:
    """Sites with their people and doses, written in bulk: nothing is computed yet."""
    from staff.models import Dose, Evidence, Person  # noqa: PLC0415  (Django is set up by main)
    from staff.services.regimen.regimens import regimens_load  # noqa: PLC0415
    from tests.factories import PRE_EXPOSURE, REGIMENS, approve, make_site, make_user  # noqa: PLC0415

    regimens_load(path=REGIMENS, now=NOW)
    officer = make_user("officer")
    sizes = [SMALL]
    while sum(sizes) < people:
        sizes.append(min(LARGE, people - sum(sizes)))
    for number, size in enumerate(sizes):
        site = make_site(f"site-{number}")
        approve(site, officer, PRE_EXPOSURE)
        rows = Person.objects.bulk_create(
            (Person(site=site, number=str(n), name=f"Person {n:06d}") for n in range(size)), batch_size=1000
        )
        Dose.objects.bulk_create(
            (
                Dose(
                    person=row,
                    given_on=ON - timedelta(days=ago - number % 30),
                    route="IM",
                    evidence=Evidence.REGISTER,
                    recorded_by=officer,
                    recorded_at=NOW,
                    recorded_on=ON,
                )
                for number, row in enumerate(rows)
                for ago in (60, 53, 39)
            ),
            batch_size=1000,
        )


def best(act: Callable[[], object], times: int = 5) -> float:
    """Seconds of the fastest of `times` runs."""
    found = []
    for _turn in range(times):
        began = time.perf_counter()
        act()
        found.append(time.perf_counter() - began)
    return min(found)


def fetched(statement: str, *values: object) -> list[tuple[object, ...]]:
    from django.db import connection  # noqa: PLC0415

    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return list(cursor.fetchall())


def write_intervals() -> None:
    """What the recompute would store of these records, without computing it; the marks of the records go."""
    from staff.models import Clearance, ClearancePending, Person  # noqa: PLC0415

    Clearance.objects.bulk_create(
        (
            Clearance(person_id=key, starts_on=ON - timedelta(days=39 + key % 30), computed_at=NOW)
            for key in Person.objects.values_list("pk", flat=True)
        ),
        batch_size=1000,
    )
    ClearancePending.objects.all().delete()


def change_all(days: int) -> tuple[float, float]:
    """Seconds to change every site's rules, and to recompute everybody after it."""
    from staff.models import SiteRules, User  # noqa: PLC0415
    from staff.services.record.recompute import recompute_catch_up  # noqa: PLC0415
    from staff.services.site.site_rules import site_rules_change  # noqa: PLC0415

    officer = User.objects.get(username="officer")
    began = time.perf_counter()
    for rules in SiteRules.objects.all():
        site_rules_change(
            actor=officer, rules=rules, changes={"settling_days": days}, reason="bench", now=NOW
        )
    changed = time.perf_counter()
    recompute_catch_up(now=NOW)
    return changed - began, time.perf_counter() - changed


def bare_recompute() -> float:
    """Read every person with every dose, write an interval a person into a table of the same shape."""
    from django.db import connection, transaction  # noqa: PLC0415

    with connection.cursor() as cursor:
        cursor.execute(
            "CREATE TABLE bench_interval (person_id bigint NOT NULL, starts_on date NOT NULL, ends_on date,"
            " computed_at timestamp NOT NULL)"
        )
        cursor.execute("CREATE INDEX bench_interval_by ON bench_interval (starts_on, ends_on, person_id)")
    began = time.perf_counter()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "SELECT p.*, d.* FROM staff_person p JOIN staff_dose d ON d.person_id = p.id ORDER BY p.id, d.given_on"
        )
        last = {row[0]: ON for row in cursor.fetchall()}
        cursor.executemany(
            "INSERT INTO bench_interval (person_id, starts_on, computed_at) VALUES (%s, %s, %s)",
            [(key, day, NOW) for key, day in last.items()],
        )
    return time.perf_counter() - began


def row(what: str, ours: float, bare: float) -> None:
    say(f"| {what} | {ours * 1000:,.1f} ms | {bare * 1000:,.1f} ms | {ours / bare:.1f} |")


def stored_at(site: Any) -> Any:
    """Whoever the guards would let onto a roster of that date: what a recompute writes, with no record judged."""
    from django.db.models import Exists, OuterRef  # noqa: PLC0415

    from staff.models import Clearance, Person  # noqa: PLC0415

    # Asked of each person: the database would else read the intervals of every site.
    covering = Clearance.objects.filter(person=OuterRef("pk"), superseded_on__isnull=True, starts_on__lte=ON)
    covered = Exists(covering.exclude(ends_on__lt=ON))
    return Person.objects.filter(covered, site=site, clearance_pending__isnull=True)


def measure(people: int, *, queries: bool) -> None:
    from django.db import connection  # noqa: PLC0415

    from staff.models import Person, Site  # noqa: PLC0415
    from staff.selectors.record.readiness import readiness  # noqa: PLC0415

    fill(people)
    say(f"{connection.vendor}, {people:,} people, {3 * people:,} doses\n")
    say("| what | this program | bare SQL | ratio |\n|---|---|---|---|")
    if not queries:
        marked, first = change_all(1)
        _marked, again = change_all(2)
        bare = bare_recompute()
        row("everybody recomputed, nothing stored before", first, bare)
        row("everybody recomputed, every interval changes", again, bare)
        row("rules changed at every site, everybody marked", marked, bare)
    else:
        write_intervals()
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    site = Site.objects.select_related("rules").get(code="site-0")
    at_site = best(lambda: fetched(CLEAR_AT_SITE, site.pk, ON, ON))
    assert len(fetched(CLEAR_AT_SITE, site.pk, ON, ON)) == stored_at(site).count() > 0
    row(
        "clear on a date, one site of 500: the stored answer",
        best(lambda: list(stored_at(site))),
        at_site,
    )
    board = best(lambda: readiness(Person.objects.filter(site=site), ON, [site]), times=3)
    row("the same with every reason judged afresh", board, at_site)
    anywhere = best(lambda: fetched(CLEAR_ANYWHERE, ON, ON))
    every = best(lambda: sum(stored_at(one).count() for one in Site.objects.all()))
    row("clear on a date, all sites, counted", every, anywhere)


def main() -> int:
    people = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with Stage():
        django.setup()
        from django.core.management import call_command  # noqa: PLC0415

        call_command("migrate", verbosity=0)
        measure(people, queries="queries" in sys.argv)
    return 0


if __name__ == "__main__":
    sys.exit(main())
