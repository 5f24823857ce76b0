"""What a real phone says is taken: the examples that tests/browser/test_phone_contract.py makes a phone say."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps

from safety.models import HandledTally, Incident, Notice, PhoneMessage
from safety.notices.phone.held import HELD_REPORT
from safety.services.notices.notices import notices_reconcile
from safety.services.phone.receive import messages_sweep
from tests.factories import Team
from tests.safety.phone.phones import Phone, message, post
from tests.safety.phone.test_held import LIST, browser, step

pytestmark = pytest.mark.django_db
EXAMPLES = json.loads((Path(__file__).parents[2] / "phone_messages.json").read_text())["messages"]
# What upgrading does; the tick does the rest.
READ_AGAIN = import_module("safety.migrations.0022_read_held_counts_again").read_again
COUNT = next(example["said"] for example in EXAMPLES if example["said"]["kind"] == "handled")


def say(phone: Phone, said: dict[str, Any], **changes: Any) -> PhoneMessage:
    """Send what the phone says, under this phone's card."""
    sealed = message({**said, "link": phone.code or None, **changes})
    assert post(sealed).status_code == 201
    return PhoneMessage.objects.get(key=sealed.key)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example["taps"])
def test_everything_a_phone_says_is_placed_whole(phone: Phone, example: dict[str, Any]) -> None:
    first = EXAMPLES[0]["said"]
    if example["said"]["kind"] == "wash":
        say(phone, first)
    kept = say(phone, example["said"])
    assert (kept.state, kept.reason) == ("placed", "")


def test_a_count_of_dogs_reaches_its_row(team: Team, phone: Phone) -> None:
    say(phone, COUNT)
    tally = HandledTally.objects.get()
    assert (tally.task, tally.count, tally.sender) == ("injecting", 1, team.person)
    assert not Incident.objects.exists()


@pytest.mark.parametrize("kind", ["alarm", "report", "wash"])
def test_only_a_count_may_be_about_no_incident(phone: Phone, kind: str) -> None:
    said = next(example["said"] for example in EXAMPLES if example["said"]["kind"] == kind)
    assert say(phone, said, about=None).state == "held"


@pytest.mark.parametrize("body", [{}, {"date": "yesterday", "counts": {}}, {"date": "2026-03-02"}])
def test_a_count_that_cant_be_read_is_told_as_a_count_and_not_as_an_injury(
    team: Team, phone: Phone, now: datetime, body: dict[str, Any]
) -> None:
    kept = say(phone, COUNT, body=body)
    assert (kept.state, kept.kind) == ("held", "handled")
    page = browser(team.officer).get(LIST).content.decode()
    assert "may be hurt" not in page and "count of dogs" in page
    notices_reconcile(now=now)
    assert not Notice.objects.filter(kind=HELD_REPORT.name).exists()
    cases = browser(team.officer).get("/cases/").content.decode()
    assert "waits for a name" not in cases and "count of dogs" in cases


def test_a_count_without_a_card_waits_as_a_count_until_somebody_says_whose_it_is(
    team: Team, now: datetime
) -> None:
    kept = say(Phone("", now), COUNT)
    assert kept.state == "held"
    assert step(team.officer, "held-take", kept.key, reason="the lead called").status_code == 302
    said = {"person": team.person.pk, "reason": "the lead called"}
    assert step(team.officer, "held-place", kept.key, **said).status_code == 302
    assert HandledTally.objects.get().sender == team.person


def test_beside_a_report_the_page_still_says_that_somebody_may_be_hurt(team: Team, now: datetime) -> None:
    nameless = Phone("", now)
    say(nameless, COUNT)
    say(nameless, EXAMPLES[2]["said"])
    page = browser(team.officer).get(LIST).content.decode()
    assert "Somebody may be hurt" in page and "count of dogs" in page
    assert "1 report from a phone waits" in browser(team.officer).get("/cases/").content.decode()


def test_counts_held_before_they_could_be_read_are_taken_up_by_the_tick(
    team: Team, phone: Phone, now: datetime
) -> None:
    kept = say(phone, COUNT)
    HandledTally.objects.all().delete()
    as_it_was = {
        "state": "held",
        "reason": "unreadable",
        "kind": "",
        "link": None,
        "proven": False,
        "held_at": now,
    }
    PhoneMessage.objects.update(**as_it_was, about=None, made_at=None, settled_at=None)
    READ_AGAIN(apps, None)
    messages_sweep(now=now + timedelta(minutes=2))
    kept.refresh_from_db()
    assert (kept.state, kept.kind) == ("placed", "handled")
    assert HandledTally.objects.get().count == 1


def test_what_can_be_read_by_nobody_stays_held_and_is_told_once(
    team: Team, phone: Phone, now: datetime
) -> None:
    say(phone, COUNT)
    PhoneMessage.objects.update(sealed="AAAA", state="held", reason="unreadable", kind="", held_at=now)
    notices_reconcile(now=now)
    told = Notice.objects.filter(kind=HELD_REPORT.name).count()
    assert told
    later = now + timedelta(hours=3)
    READ_AGAIN(apps, None)
    messages_sweep(now=later)
    notices_reconcile(now=later)
    assert PhoneMessage.objects.get().state == "held"
    assert Notice.objects.filter(kind=HELD_REPORT.name).count() == told
