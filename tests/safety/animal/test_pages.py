"""The animal on the case page, its forms and its printed link."""

from __future__ import annotations

import re
from datetime import datetime

import pytest
from django.test import Client
from django.utils import timezone

from safety.models import Observation
from safety.services.animal.observation import outcome_record
from tests.factories import Team
from tests.safety.animal.scenes import DAY, bitten, check_days, local, watched
from tests.safety.pages.scenes import signed_in_as

pytestmark = pytest.mark.django_db


@pytest.fixture
def liaison(team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch) -> Client:
    monkeypatch.setattr(timezone, "now", lambda: now)
    return signed_in_as(team.liaison)


def text_of(client: Client, reference: str) -> str:
    page = client.get(f"/cases/{reference}/").content.decode()
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def test_the_case_offers_the_watch_where_the_report_says_the_dog_can_be_found(
    team: Team, now: datetime, liaison: Client
) -> None:
    incident = bitten(team, now)
    assert "Nobody watches it" in text_of(liaison, incident.reference)
    incident.animal_facts |= {"can_be_watched": "yes"}
    incident.save()
    assert "can be found again: have it watched for 10 days" in text_of(liaison, incident.reference)
    assert "Watching never delays the first dose" in text_of(liaison, incident.reference)


def test_about_a_bat_the_clinician_is_asked(team: Team, now: datetime, liaison: Client) -> None:
    text = text_of(liaison, bitten(team, now, "bat").reference)
    assert "ask the clinician and the veterinary authority" in text
    assert "Watch the animal" not in text


def test_begun_checked_and_ended_by_the_forms(
    team: Team, now: datetime, liaison: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    incident = bitten(team, now)
    where = f"/cases/{incident.reference}/animal/"
    assert liaison.post(where, {"described": ""}).status_code == 400
    assert liaison.post(where, {"described": "brown dog"}).status_code == 302
    assert liaison.post(where, {"described": "brown dog"}).status_code == 409
    end = now + 10 * DAY
    monkeypatch.setattr(timezone, "now", lambda: end)
    day = local(team, end).isoformat()
    refused = liaison.post(f"{where}outcome/", {"outcome": "well", "known_on": day})
    assert refused.status_code == 409
    assert "have it looked at" in refused.content.decode()
    assert liaison.post(f"{where}check/", {"day": day, "seen": "well"}).status_code == 302
    assert liaison.post(f"{where}outcome/", {"outcome": "well", "known_on": day}).status_code == 302
    text = text_of(liaison, incident.reference)
    assert "the animal was well at the end of the observation" in text
    assert "Whether the course stops is the clinician" in text
    one = Observation.objects.get()
    for kind, row in (("outcomes", one.outcomes.get()), ("checks", one.checks.get())):
        assert liaison.post(f"{where}{kind}/{row.pk}/void/", {"reason": "slip"}).status_code == 302
    assert liaison.post(f"{where}void/", {"reason": "slip"}).status_code == 302
    assert "Nobody watches it" in text_of(liaison, incident.reference)


def test_the_days_are_marks_with_words(
    team: Team, now: datetime, liaison: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = watched(team, now)
    check_days(team, one, now, 1)
    monkeypatch.setattr(timezone, "now", lambda: now + 3 * DAY)
    text = text_of(liaison, one.incident.reference)
    assert "Day 0 March 2 ● exposure" in text
    assert "Day 1 March 3 ✓ well" in text
    assert "Day 2 March 4 ! no check" in text
    assert "Day 3 March 5 ○ today" in text
    assert "Day 10 March 12 ○ to come" in text
    assert "1 of 10 checks recorded" in text


def test_the_member_sees_the_days_and_not_who_keeps_it(team: Team, now: datetime, liaison: Client) -> None:
    one = watched(team, now)
    assert "Test Keeper" in text_of(liaison, one.incident.reference)
    own = text_of(signed_in_as(team.member), one.incident.reference)
    assert "being watched" in own
    for word in ("Test Keeper", "000 7", "brown dog"):
        assert word not in own


@pytest.mark.parametrize(
    ("outcomes", "said"),
    [
        (["ill"], "Tell the clinician today: the animal shows signs"),
        (["escaped"], "escaped and can't be watched"),
        (["died"], "Ask the veterinary authority for a sample"),
        (["died", "sampled"], "a sample was taken"),
        (["sampled", "found"], "at once: the laboratory found rabies"),
        (["sampled", "not-found"], "did not find rabies"),
        (["sampled", "unfit"], "That isn't “not found”"),
    ],
)
def test_the_case_says_what_to_tell_the_clinician_and_that_the_course_is_theirs(
    team: Team, now: datetime, liaison: Client, outcomes: list[str], said: str
) -> None:
    one = watched(team, now)
    for outcome in outcomes:
        outcome_record(
            actor=team.liaison, observation=one, outcome=outcome, known_on=local(team, now), now=now
        )
    text = text_of(liaison, one.incident.reference).replace("&#x27;", "'")
    assert said in text
    assert "clinician's word" in text


def test_a_check_after_the_newest_outcome_is_told_first(team: Team, now: datetime, liaison: Client) -> None:
    one = watched(team, now)
    outcome_record(actor=team.liaison, observation=one, outcome="ill", known_on=local(team, now), now=now)
    check_days(team, one, now, 1, seen="died")
    text = text_of(liaison, one.incident.reference)
    assert "3 Mar 2026: died. Tell the clinician today: the animal died" in text
    assert text.index("the animal died") < text.index("the animal shows signs")


def test_the_link_is_printed_once_with_its_picture_and_can_be_ended(
    team: Team, now: datetime, liaison: Client
) -> None:
    one = watched(team, now)
    where = f"/cases/{one.incident.reference}/animal/card/"
    assert "Make the link" in liaison.get(where).content.decode()
    made = liaison.post(where)
    assert made.status_code == 201
    address = re.search(r"/animal/[0-9A-Z]{8}-[0-9A-Z]{26}/", made.content.decode())
    assert address
    assert "<svg" in made.content.decode()
    assert "no-store" in made["Cache-Control"]
    assert Client().get(address[0]).status_code == 200
    assert liaison.post(f"{where}end/").status_code == 302
    assert Client().get(address[0]).status_code == 404
