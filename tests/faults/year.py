"""A year of a programme through the real services, by a clock that jumps from one thing to the next.

    python -m tests.faults.year --people 300 --incidents 120 --seed 315
    python -m tests.faults.year --days 30 --after 20           bites for so many days, and what follows for so many
    python -m tests.faults.year --keep FOLDER       leave the database there: DATA_DIR=FOLDER manage.py up shows it

Measured with the first line: 13 minutes quiet, 40 busy; 314 doses planned at its end, 225 on time, 58 late, 11 closed with
a reason, 5 chased, 15 to come; 13,665 notices; 2,618 instants at which the recomputation agreed.

Nothing is polled. After a change of a course what its bell rings for is done (plan it, send what is due); after a report
and a corrected address, at each site's hour of reminders and whenever the table has something due, the whole tick
runs. Each has that instant as its clock; between them nothing can happen. Mail goes to the mailbox, but for addresses
that bounce. At the end every dose that was due is recorded, chased or closed with a reason, and a
recomputation from the raw events (`year_check`, which imports nothing of the service) agrees with every planned date at
every one of those instants and with every notice about a dose that left: which dose, stage, audience, address, date and
instant. SQLite in a folder of its own. Exit 1 when anything differs.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from datetime import time as hour_of_day
from random import Random
from typing import TYPE_CHECKING, Any

import django

from tests.faults.stage import CHECKOUT, say
from tests.faults.year_check import Address, Key, Recomputed, Row, hour_on

if TYPE_CHECKING:
    from tests.faults.year_life import Life

DAY = timedelta(days=1)
DOSE_KINDS = ("day-before", "day-of", "day-after", "overdue")


class Year:
    """Runs the clock; keeps what the service planned at every look."""

    def __init__(self, life: Life) -> None:
        self.life = life
        self.looks: list[datetime] = []
        self.plans: list[dict[int, list[Row]]] = []
        self.entered = 0
        self.sent = 0

    def run(self, until: datetime) -> None:
        for place in self.life.places:
            day = self.life.first
            while (turn := hour_on(place.facts.zone, day, place.facts.hour)) <= until + DAY:
                self.life.day_turns(turn)
                day += DAY
        while (now := self._next()) < until:
            planned = self.life.due(now)
            changed = self.life.play(now)
            if now in self.life.ticks or not planned:
                self._tick(now)
            elif changed:
                self._ring(now)
            else:
                continue
            self._look(now)

    def _next(self) -> datetime:
        """The next instant at which something is planned, or due by the table."""
        from safety.models import Notice  # noqa: PLC0415  (Django is set up by main)

        planned = self.life.agenda[0][0]
        rows = Notice.objects.filter(state__in=[Notice.State.WAITING, Notice.State.CLAIMED])
        due = rows.order_by("next_try_at").values_list("next_try_at", flat=True).first()
        # What was due at the last look and waits still is asked again a minute later.
        return (
            min(planned, max(due, self.looks[-1] + timedelta(minutes=1))) if due and self.looks else planned
        )

    def _tick(self, now: datetime) -> None:
        from safety.services.notices.tick import tick  # noqa: PLC0415

        self.sent += tick(clock=lambda: now)

    def _ring(self, now: datetime) -> None:
        """What `safety.tasks.plan_course` does for each course that changed."""
        from safety.services.course.plan import course_plan  # noqa: PLC0415
        from safety.services.notices.sending import send_due  # noqa: PLC0415

        for course in sorted(
            {e.course for e in self.life.events[self.entered :] if not isinstance(e, Address)}
        ):
            course_plan(course_id=course, now=now)
        self.sent += send_due(clock=lambda: now)

    def _look(self, now: datetime) -> None:
        from safety.models import PlannedDose  # noqa: PLC0415

        self.entered = len(self.life.events)
        rows: dict[int, list[Row]] = {}
        standing = PlannedDose.objects.filter(course__ended_on__isnull=True).order_by("course", "number")
        for course, *row in standing.values_list("course", "number", "due_on", "latest_on", "given_on"):
            rows.setdefault(course, []).append(tuple(row))  # type: ignore[arg-type]
        self.looks.append(now)
        self.plans.append(rows)


def bouncing(deliver: Callable[..., None]) -> Callable[..., None]:
    """The mailbox takes everything; a mail server would refuse an address that doesn't exist."""
    from safety.errors import PermanentFailure  # noqa: PLC0415

    def handed_over(message: Any, *, fence: Any) -> None:
        if "bounces" in str(message["To"]):
            raise PermanentFailure("550 5.1.1 no such mailbox")
        deliver(message, fence=fence)

    return handed_over


def differences(year: Year) -> dict[str, list[str]]:
    """What the recomputation doesn't agree with, by what it is."""
    recomputed = Recomputed(year.life.events, {p.site.code: p.facts for p in year.life.places}, year.looks)
    plans = [
        f"{look} course {course}: {mine.get(course)} recomputed, {theirs.get(course)} planned"
        for look, theirs in zip(year.looks, year.plans, strict=True)
        for mine in [recomputed.plans[look]]
        for course in sorted(mine.keys() | theirs.keys())
        if mine.get(course) != theirs.get(course)
    ]
    left = notices_left()
    return {
        "planned dates": plans,
        "notices that should have left and didn't": [
            str(k) for k in sorted(recomputed.told.keys() - left.keys())
        ],
        "notices that left and shouldn't have": [
            str(k) for k in sorted(left.keys() - recomputed.told.keys())
        ],
        "notices at another instant": [
            f"{key}: {left[key][0]}, not {told.at}"
            for key, told in recomputed.told.items()
            if key in left and left[key][0] != told.at
        ],
        "notices to another audience": [
            f"{key}: {left[key][1]}, not {told.audiences}"
            for key, told in recomputed.told.items()
            if key in left and left[key][1] not in told.audiences
        ],
        "planned dates compared": [] if any(year.plans) else ["none"],
    }


def notices_left() -> dict[Key, tuple[datetime, str]]:
    """Every notice about a dose that was handed over or refused for good, when and for whom."""
    from safety.models import Notice, NoticeEvent  # noqa: PLC0415

    ended = NoticeEvent.objects.filter(
        notice__kind__in=DOSE_KINDS, new__in=[Notice.State.SENT, Notice.State.FAILED]
    ).select_related("notice")
    found: dict[Key, tuple[datetime, str]] = {}
    for event in ended:
        row = event.notice
        assert row.course_id and row.step and row.when_on
        key = (row.course_id, row.step, row.when_on, row.kind, row.send_on, row.email)
        assert key not in found, f"twice: {key}"
        found[key] = (event.at, row.audience)
    return found


def unfinished(until: datetime) -> dict[str, list[str]]:
    """Doses that fell out of the follow-up, and notices that hang."""
    from safety.models import Notice, PlannedDose  # noqa: PLC0415
    from staff.models import SiteRole  # noqa: PLC0415

    open_doses = PlannedDose.objects.filter(
        given_on__isnull=True, course__ended_on__isnull=True
    ).select_related("course__incident__site")
    ended = PlannedDose.objects.filter(given_on__isnull=True, course__ended_on__isnull=False)
    hanging = Notice.objects.filter(state__in=[Notice.State.WAITING, Notice.State.CLAIMED], due_at__lt=until)
    officers: dict[int, set[str]] = {}
    for site, email in SiteRole.objects.filter(role=SiteRole.Role.OFFICER).values_list("site", "user__email"):
        officers.setdefault(site, set()).add(email)
    untold = [
        str(row)
        for row in Notice.objects.filter(state=Notice.State.FAILED)
        if officers[row.site_id] - set(Notice.objects.filter(refused=row).values_list("email", flat=True))
    ]
    return {
        "doses neither recorded, chased nor closed": [
            str(dose)
            for dose in open_doses
            if dose.due_on < dose.course.incident.site.local_date(until) and not _chased(dose, until)
        ],
        "doses closed without a reason": [str(dose) for dose in ended.filter(course__end_reason="")],
        "notices that hang": [str(row) for row in hanging],
        "bounces that were not told": untold,
    }


def _chased(dose: Any, until: datetime) -> bool:
    """Whether somebody was told today or yesterday that this dose is late."""
    from safety.models import Notice  # noqa: PLC0415

    yesterday = dose.course.incident.site.local_date(until) - DAY
    told = Notice.objects.filter(course=dose.course, step=dose.number, when_on=dose.due_on)
    return told.filter(send_on__gte=yesterday, state=Notice.State.SENT).exists()


def summary(year: Year) -> None:
    from safety.models import MailboxMessage, Notice, PlannedDose  # noqa: PLC0415
    from safety.rules.lessons.figures import DueDose, dose_figures  # noqa: PLC0415

    for what, number in sorted(year.life.tally.items()):
        say(f"  {what}: {number}")
    rows = PlannedDose.objects.values_list("due_on", "latest_on", "given_on", "course__ended_on")
    figures = dose_figures(
        [DueDose(due, latest, given, ended is not None) for due, latest, given, ended in rows],
        today=year.looks[-1].date(),
    )
    fates = ", ".join(f"{fate.value} {number}" for fate, number in figures.fates.items())
    late = ", ".join(f"{b.first}{f'-{b.last}' if b.last else '+'}: {b.doses}" for b in figures.late)
    say(f"doses planned: {figures.due} ({fates}); days late: {late}")
    kinds = Counter(Notice.objects.filter(state=Notice.State.SENT).values_list("kind", flat=True))
    say(f"notices sent: {kinds.total()} ({', '.join(f'{k} {n}' for k, n in sorted(kinds.items()))})")
    states = Counter(Notice.objects.values_list("state", flat=True))
    say(
        f"notices by state: {dict(sorted(states.items()))}; mails in the mailbox: {MailboxMessage.objects.count()}"
    )
    say(
        f"escalations: day-after {kinds['day-after']}, overdue {kinds['overdue']}, unanswered {kinds['unanswered']}, "
        f"undelivered {kinds['undelivered']}"
    )


def run(options: argparse.Namespace) -> bool:
    from django.core.management import call_command  # noqa: PLC0415

    from safety.services.notices import sending  # noqa: PLC0415
    from staff.services.regimen.regimens import regimens_load  # noqa: PLC0415
    from tests.factories import REGIMENS  # noqa: PLC0415
    from tests.faults.year_life import Life  # noqa: PLC0415
    from tests.faults.year_world import immunise, immunised_before, lay_places  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    started, dice = time.monotonic(), Random(options.seed)
    start = datetime.combine(options.first, hour_of_day(3), UTC)
    regimens_load(path=REGIMENS, now=start)
    places = lay_places(options.people, start)
    for place in places:
        for person in filter(immunised_before, place.people):
            immunise(place, person, options.first - dice.randrange(5, 200) * DAY, start)
    life = Life(places, options.first, options.days + options.after, dice)
    life.lay_out(options.incidents, start, options.days)
    year = Year(life)
    say(f"{options.people} people at {len(places)} sites laid after {time.monotonic() - started:.0f} s")
    sending.deliver = bouncing(sending.deliver)
    until = start + (options.days + options.after) * DAY
    year.run(until)
    say(
        f"{options.days + options.after} days, {len(year.looks)} looks, {year.sent} mails: {time.monotonic() - started:.0f} s"
    )
    summary(year)
    compared = sum(len(rows) for plans in year.plans for rows in plans.values())
    say(
        f"compared: {compared} planned dates at {len(year.looks)} instants, {len(notices_left())} notices about doses"
    )
    wrong = differences(year) | unfinished(until)
    for what, which in wrong.items():
        if which:
            say(f"{what}: {len(which)}")
            for line in which[:5]:
                say(f"  {line}")
    return not any(wrong.values())


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    for name, usual in (("people", 300), ("incidents", 120), ("days", 320), ("after", 45), ("seed", 315)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    parser.add_argument("--first", type=date.fromisoformat, default=date(2025, 1, 1))
    parser.add_argument("--keep", metavar="FOLDER", help="an empty folder in which the database stays")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="three-fifteen-year-") as folder:
        for name in ("DATABASE_URL", "REDIS_URL", "SMTP_URL"):
            os.environ.pop(name, None)
        os.environ |= {
            "DATA_DIR": options.keep or folder,
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "DEMO": "1",
            "LOG_LEVEL": "ERROR",
            "PYTHONPATH": str(CHECKOUT),
        }
        django.setup()
        good = run(options)
    say("kept" if good else "BROKEN")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
