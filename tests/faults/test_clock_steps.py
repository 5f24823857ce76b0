"""The machine's clock jumps back and forth by hours while the outbox works: each mail leaves, once, and none too soon.

The steps are those of the clock that the services are given, in this process: setting the clock of whole processes
takes the machine's own clock or a library that stands between them and it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from safety.errors import TemporaryFailure
from safety.models import MailboxMessage, Notice
from safety.outbox.claims import claim_next
from safety.outbox.states import LEASE, LONGEST_WAIT, State
from safety.services.notices import sending
from safety.services.notices.sending import send_due
from safety.services.notices.tick import tick
from staff.models import Site
from tests.factories import Team, make_site
from tests.safety.outbox.samples import make_course, make_notice

START = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
LONGEST_JUMP = 30
JUMPS = st.lists(
    st.tuples(
        st.integers(-LONGEST_JUMP * 60, LONGEST_JUMP * 60),  # minutes
        st.sampled_from(["sends", "sends", "server-away", "dies-holding"]),
    ),
    min_size=1,
    max_size=8,
)


@dataclass
class Clock:
    """Goes on by a second at each look, and jumps when told."""

    now: datetime = START
    seen: list[datetime] = field(default_factory=list)

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        self.seen.append(self.now)
        return self.now


@pytest.fixture
def site(db: object) -> Site:
    return make_site("hillside")


@pytest.fixture
def mailbox(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, Any]]:
    """`handed`: at what clock each Message-ID was handed over; `away`: whether the server answers 4xx."""
    box: dict[str, Any] = {"handed": [], "away": False, "clock": None}

    def deliver(message: Any, *, fence: Any) -> None:
        assert fence()
        if box["away"]:
            raise TemporaryFailure("451 later")
        box["handed"].append((message["Message-ID"], box["clock"].now))

    monkeypatch.setattr(sending, "deliver", deliver)
    yield box


def step(clock: Clock, what: str, mailbox: dict[str, Any]) -> None:
    mailbox["away"] = what == "server-away"
    if what == "dies-holding":
        claim_next(clock())
    send_due(clock=clock)


@given(jumps=JUMPS, dues=st.lists(st.integers(-600, 1800), min_size=1, max_size=6))
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_each_mail_leaves_once_and_never_before_the_clock_has_shown_its_hour(
    site: Site, mailbox: dict[str, Any], jumps: list[tuple[int, str]], dues: list[int]
) -> None:
    Notice.objects.filter(about__isnull=False).update(about=None)
    Notice.objects.all().delete()
    mailbox["handed"].clear()
    clock = mailbox["clock"] = Clock()
    rows = [make_notice(site, START + timedelta(minutes=minutes), START) for minutes in dues]
    for minutes, what in jumps:
        clock.now += timedelta(minutes=minutes)
        step(clock, what, mailbox)
    # Set right at last: what a clock that ran ahead has put off is overtaken when the hour it showed has come.
    clock.now = max(*clock.seen, *(row.due_at for row in rows)) + LONGEST_WAIT + LEASE
    step(clock, "sends", mailbox)
    assert Counter(name for name, _at in mailbox["handed"]) == Counter(row.message_id for row in rows)
    due = {row.message_id: row.due_at for row in rows}
    assert all(at >= due[name] for name, at in mailbox["handed"])
    assert not Notice.objects.exclude(state=State.SENT).exists()


@pytest.mark.parametrize("back", [1, 5, 24])
def test_after_a_clock_that_ran_ahead_nothing_waits_longer_than_it_ran_ahead(
    back: int, site: Site, mailbox: dict[str, Any]
) -> None:
    clock = mailbox["clock"] = Clock(START + back * HOUR)
    row = make_notice(site, START, START)
    step(clock, "server-away", mailbox)
    clock.now = START
    step(clock, "sends", mailbox)
    assert not mailbox["handed"]
    clock.now = START + back * HOUR + timedelta(minutes=1)
    step(clock, "sends", mailbox)
    assert [name for name, _at in mailbox["handed"]] == [row.message_id]


@given(jumps=st.lists(st.integers(-72, 72), min_size=1, max_size=8))
@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_course_whose_clock_is_set_back_and_forth_tells_nobody_the_same_thing_twice(
    team: Team, jumps: list[int]
) -> None:
    if not Notice.objects.filter(course__isnull=False).exists():
        make_course(team, START)
    MailboxMessage.objects.all().delete()
    Notice.objects.filter(about__isnull=False).update(about=None)
    Notice.objects.all().delete()
    clock = Clock()
    for hours in jumps:
        clock.now += hours * HOUR
        tick(clock=clock)
    clock.now = max(START, *clock.seen) + HOUR
    tick(clock=clock)
    sent = Counter(MailboxMessage.objects.values_list("message_id", flat=True))
    assert set(sent.values()) <= {1}
    assert set(sent) == set(Notice.objects.filter(state=State.SENT).values_list("message_id", flat=True))
    # What the plan asks for at the last look has left or waits for its hour.
    late = Notice.objects.filter(state__in=[State.WAITING, State.CLAIMED], due_at__lte=clock.now)
    assert not late.exists()
