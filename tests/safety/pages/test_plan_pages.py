"""The officer's page of the plan: shown in words, tried, and only then changed."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from safety.models import PlanRow
from safety.rules.notices.follow_up import Subject
from safety.selectors.notices.plans import own_rows
from tests.factories import Team
from tests.safety.outbox.samples import make_course

pytestmark = pytest.mark.django_db
PLAN = "/sites/hillside/plan/"
ALL = ["liaison", "member", "officer"]


@pytest.fixture
def officer(team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch) -> Client:
    monkeypatch.setattr(timezone, "now", lambda: now)
    client = Client()
    client.force_login(team.officer)
    return client


def entered(*rows: tuple[int, list[str], bool], **more: str) -> dict[str, Any]:
    data: dict[str, Any] = {"form-TOTAL_FORMS": str(len(rows)), "form-INITIAL_FORMS": "0"}
    for number, (offset, audiences, daily) in enumerate(rows):
        data |= {f"form-{number}-offset_days": str(offset), f"form-{number}-audiences": audiences}
        data |= {f"form-{number}-repeats_daily": "on"} if daily else {}
    return data | more


GOOD = entered((0, ALL, False), (1, ALL, True))


def hidden(answer: Any, name: str) -> str:
    return str(answer.content.decode().partition(f'name="{name}" value="')[2].partition('"')[0])


def test_the_plan_stands_there_in_words(officer: Client) -> None:
    text = officer.get(PLAN).content.decode()
    for words in ("On the day", "1 day before", "Daily from 2 days after", "The shipped plan."):
        assert words in text


def test_a_change_is_shown_first_then_kept_with_a_reason(officer: Client, team: Team, now: datetime) -> None:
    make_course(team, now)
    where = f"{PLAN}dose/"
    seen = hidden(officer.get(where), "seen")
    shown = officer.post(where, GOOD | {"seen": seen, "preview": "1"})
    text = shown.content.decode()
    assert shown.status_code == 200 and "What this change would do" in text and not PlanRow.objects.exists()
    assert "<strong>−</strong>" in text and "<strong>+</strong>" in text
    confirmed = GOOD | {"seen": seen, "previewed": hidden(shown, "previewed"), "confirmed": "1"}
    assert officer.post(where, confirmed | {"reason": ""}).status_code == 400
    assert officer.post(where, confirmed | {"reason": "letter 9"}).status_code == 302
    assert [row.offset_days for row in own_rows(team.site, Subject.DOSE)] == [0, 1]
    assert "The site's own plan." in officer.get(PLAN).content.decode()
    back = officer.post(where, {"shipped": "1", "seen": hidden(officer.get(where), "seen")})
    assert "What this change would do" in back.content.decode()
    data = {name: hidden(back, name) for name in ("seen", "previewed")}
    officer.post(where, data | {"shipped": "1", "confirmed": "1", "reason": "as before"})
    assert not PlanRow.objects.exists()


def test_rows_edited_after_the_preview_are_previewed_first(officer: Client) -> None:
    where = f"{PLAN}dose/"
    seen = hidden(officer.get(where), "seen")
    shown = officer.post(where, GOOD | {"seen": seen, "preview": "1"})
    other = entered((0, ALL, False), (2, ALL, True), seen=seen, previewed=hidden(shown, "previewed"))
    assert officer.post(where, other | {"confirmed": "1", "reason": "x"}).status_code == 200
    assert not PlanRow.objects.exists()


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (entered((0, ALL, False)), "repeats daily from 1 or 2 days after"),
        (entered((1, ALL, True)), "give a row on the day before, or on the day at noon or earlier"),
        (entered((0, ALL, False), (0, ALL, False), (1, ALL, True)), "Two rows stand on the same day"),
        (entered((0, ALL, True), (1, ALL, True)), "Only a row after the date may repeat"),
        (entered((0, ALL, False), (1, ALL, True), (-40, ALL, False)), "greater than or equal to -30"),
    ],
)
def test_a_plan_that_cannot_be_is_said_to_be_so(officer: Client, rows: dict[str, Any], words: str) -> None:
    answer = officer.post(f"{PLAN}dose/", rows | {"preview": "1"})
    assert answer.status_code == 400 and words in answer.content.decode()


def test_a_subject_that_is_none_is_not_found(officer: Client) -> None:
    assert officer.get(f"{PLAN}weather/").status_code == 404


def test_the_coming_fortnight_says_what_comes_only_if_nothing_is_recorded(
    officer: Client, team: Team, now: datetime
) -> None:
    assert "Nothing is planned" in officer.get("/notices/coming/").content.decode()
    course = make_course(team, now)
    text = officer.get("/notices/coming/").content.decode()
    assert course.incident.reference in text and "if nothing is recorded until then" in text
    assert team.person.name not in text


def test_what_nobody_has_answered_stands_above_it(officer: Client, team: Team, now: datetime) -> None:
    course = make_course(team, now)
    sent_at = now - timedelta(hours=4)
    course.notices.filter(kind="day-of", step=1).update(state="sent", settled_at=sent_at)
    text = " ".join(officer.get("/notices/coming/").content.decode().split())
    assert "Nobody has said to have seen" in text and text.count("a dose is due today, ") == 2
    course.notices.filter(kind="day-of", step=1).update(acknowledged_at=now)
    assert "Nobody has said to have seen" not in officer.get("/notices/coming/").content.decode()
