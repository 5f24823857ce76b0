"""The private link: it takes one word a day and tells nothing. Headers by RFC 9111 5.2.2.5 (no-store) and the W3C
Referrer Policy; tries at its secret are counted as for the phone's links."""

from __future__ import annotations

from datetime import datetime

import pytest
from django.test import Client
from django.utils import timezone

from safety.models import AnimalLink
from safety.services.animal.animal_links import animal_link_end, animal_link_make
from safety.services.animal.observation import outcome_record
from safety.services.animal.observation_voids import observation_void
from tests.factories import Team
from tests.safety.animal.scenes import DAY, again, local, watched

pytestmark = pytest.mark.django_db


class Scene:
    """A watched dog, its link and a browser with neither account nor cookies, that obeys CSRF checks."""

    def __init__(self, team: Team, now: datetime, clock: pytest.MonkeyPatch) -> None:
        self.team, self.clock = team, clock
        self.at(now)
        self.one = watched(team, now)
        self.code = animal_link_make(actor=team.liaison, observation=self.one, now=now).code
        self.client = Client(enforce_csrf_checks=True)

    def at(self, now: datetime) -> None:
        self.clock.setattr(timezone, "now", lambda: now)

    def get(self, code: str = "") -> int:
        return self.client.get(f"/animal/{code or self.code}/").status_code

    def say(self, seen: str) -> int:
        return self.client.post(f"/animal/{self.code}/", {"seen": seen}).status_code


@pytest.fixture
def scene(team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch) -> Scene:
    return Scene(team, now, monkeypatch)


def test_a_word_is_kept_for_today_without_account_cookie_or_script(scene: Scene, now: datetime) -> None:
    scene.at(now + DAY)
    assert scene.say("well") == 200
    (check,) = again(scene.one).checks.all()
    assert (check.day, check.seen, check.recorded_by) == (local(scene.team, now + DAY), "well", None)
    assert "sessionid" not in scene.client.cookies


def test_the_page_says_reference_and_dates_and_nothing_of_anybody(scene: Scene) -> None:
    scene.say("ill")
    page = scene.client.get(f"/animal/{scene.code}/")
    text = page.content.decode()
    assert scene.one.incident.reference in text
    for word in ("Test Member", "Test Keeper", "000 7", "brown dog", "Hillside", "hand"):
        assert word not in text
    assert page["Cache-Control"] == "no-store"
    assert page["Referrer-Policy"] == "no-referrer"
    assert "noindex" in page["X-Robots-Tag"]


def test_whatever_is_wrong_with_a_link_the_answer_is_the_same(scene: Scene) -> None:
    other = "A" if scene.code[-1] != "A" else "B"
    wrong = scene.code[:-1] + other
    unknown = "2" * 8 + scene.code[8:]
    answers = {scene.client.get(f"/animal/{code}/").content for code in (wrong, unknown, "x", "2" * 34)}
    assert len(answers) == 1
    assert {scene.get(code) for code in (wrong, unknown, "x")} == {404}


def test_only_the_digest_is_kept(scene: Scene) -> None:
    row = AnimalLink.objects.get()
    assert scene.code.partition("-")[2] not in str(vars(row))
    assert len(row.secret_hash) == 64


def test_five_wrong_tries_close_the_door_for_the_right_one_too(scene: Scene, now: datetime) -> None:
    wrong = scene.code[:-1] + ("A" if scene.code[-1] != "A" else "B")
    for _turn in range(5):
        assert scene.get(wrong) == 404
    assert scene.get() == 404
    scene.at(now + DAY)
    assert scene.get() == 200


@pytest.mark.parametrize(("days", "status"), [(9, 200), (10, 200), (17, 200), (18, 404)])
def test_it_ends_with_the_observation_and_its_days_of_grace(
    scene: Scene, now: datetime, days: int, status: int
) -> None:
    scene.at(now + days * DAY)
    assert scene.get() == status


def test_an_outcome_a_void_a_new_link_or_the_liaison_ends_it(scene: Scene, now: datetime) -> None:
    made = animal_link_make(actor=scene.team.liaison, observation=scene.one, now=now)
    assert made.renewed
    assert scene.get() == 404
    assert scene.get(made.code) == 200
    animal_link_end(actor=scene.team.liaison, observation=scene.one, now=now)
    assert scene.get(made.code) == 404


@pytest.mark.parametrize("how", ["outcome", "void"])
def test_when_the_watch_ends_so_does_the_link(scene: Scene, now: datetime, how: str) -> None:
    if how == "void":
        observation_void(actor=scene.team.liaison, observation=scene.one, reason="slip", now=now)
    else:
        outcome_record(
            actor=scene.team.liaison,
            observation=scene.one,
            outcome="escaped",
            known_on=local(scene.team, now),
            now=now,
        )
    assert (scene.get(), scene.say("well")) == (404, 404)


def test_twenty_words_a_day_are_enough(scene: Scene, now: datetime) -> None:
    for turn in range(20):
        assert scene.say("well" if turn % 2 else "not-seen") == 200
    assert scene.say("ill") == 429
    scene.at(now + DAY)
    assert scene.say("ill") == 200


def test_a_word_that_is_none_is_refused(scene: Scene) -> None:
    assert scene.say("barking") == 400
    assert not again(scene.one).checks.exists()
