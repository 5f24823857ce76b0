"""Who is told of an animal, when, and that the mail says nothing of it. Common practice, no source for the minute."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from safety.emails.build import build_mail
from safety.models import AnimalCheck, Incident, Notice, Observation
from safety.notices.case import animal
from safety.notices.case.animal import ANIMAL_WORD, ANIMALS
from safety.notices.mail.unanswered import SILENCES
from safety.services.animal.observation import check_record, outcome_record
from safety.services.animal.observation_voids import check_void, observation_void
from safety.services.notices.acknowledging import notice_acknowledge
from safety.services.notices.notices import notices_reconcile, origin_reconcile, still_true
from staff.models import SiteRole, SiteRules
from tests.factories import Team
from tests.safety.animal.scenes import DAY, check_days, local, watched

pytestmark = pytest.mark.django_db

BOTH = ["liaison@example.org", "officer@example.org"]


def told() -> list[str]:
    return sorted(Notice.objects.filter(kind=ANIMAL_WORD.name).values_list("email", flat=True))


def say(team: Team, one: Observation, seen: str, now: datetime) -> None:
    check_record(observation=one, actor=team.liaison, day=local(team, now), seen=seen, now=now)


@pytest.mark.parametrize("seen", ["ill", "escaped", "died", "killed"])
def test_an_alarming_word_is_told_at_once_to_liaison_and_officer(
    team: Team, now: datetime, seen: str
) -> None:
    say(team, watched(team, now), seen, now)
    assert told() == BOTH
    assert not Notice.objects.filter(kind=ANIMAL_WORD.name, due_at__gt=now).exists()
    origin_reconcile(origin=ANIMALS, now=now)
    assert told() == BOTH


@pytest.mark.parametrize("seen", ["well", "not-seen"])
def test_a_harmless_word_or_one_day_unseen_is_told_to_nobody(team: Team, now: datetime, seen: str) -> None:
    say(team, watched(team, now), seen, now)
    assert told() == []


def test_the_same_word_pressed_again_and_again_is_one_notice(team: Team, now: datetime) -> None:
    one = watched(team, now)
    for seen in ("ill", "well", "ill", "well", "ill"):
        say(team, one, seen, now)
    assert told() == BOTH


def test_two_days_running_unseen_are_told_on_the_second(team: Team, now: datetime) -> None:
    one = watched(team, now)
    say(team, one, "not-seen", now + DAY)
    assert told() == []
    say(team, one, "not-seen", now + 2 * DAY)
    assert told() == BOTH


@pytest.mark.parametrize("outcome", ["ill", "escaped", "died", "killed", "sampled"])
def test_every_outcome_is_told(team: Team, now: datetime, outcome: str) -> None:
    outcome_record(
        actor=team.liaison,
        observation=watched(team, now),
        outcome=outcome,
        known_on=local(team, now),
        now=now,
    )
    assert told() == BOTH


def test_well_at_the_end_is_told_too(team: Team, now: datetime) -> None:
    one = watched(team, now)
    check_days(team, one, now, *range(1, 11))
    end = now + 10 * DAY
    outcome_record(actor=team.liaison, observation=one, outcome="well", known_on=local(team, end), now=end)
    assert told() == BOTH


def test_a_missing_check_is_told_the_next_morning_at_the_sites_hour(team: Team, now: datetime) -> None:
    watched(team, now)
    # Ten minutes before midnight in Nairobi on day 1, and ten minutes after it.
    midnight = datetime(2026, 3, 3, 21, 0, tzinfo=UTC)
    notices_reconcile(now=midnight - timedelta(minutes=10))
    assert told() == []
    notices_reconcile(now=midnight + timedelta(minutes=10))
    assert told() == BOTH
    due = set(Notice.objects.filter(kind=ANIMAL_WORD.name).values_list("due_at", flat=True))
    assert due == {datetime(2026, 3, 4, 4, 0, tzinfo=UTC)}


def test_a_check_that_came_in_the_night_takes_the_question_back(team: Team, now: datetime) -> None:
    one = watched(team, now)
    morning = now + 2 * DAY
    notices_reconcile(now=morning)
    notice = Notice.objects.filter(kind=ANIMAL_WORD.name).first()
    assert notice is not None
    assert still_true(notice, morning)
    check_record(observation=one, actor=team.liaison, day=local(team, now + DAY), seen="well", now=morning)
    assert not still_true(notice, morning)


def test_a_voided_word_is_no_longer_true_and_one_that_stands_is_however_late_the_mail(
    team: Team, now: datetime
) -> None:
    one = watched(team, now)
    say(team, one, "ill", now)
    notice = Notice.objects.filter(kind=ANIMAL_WORD.name).first()
    assert notice is not None
    assert still_true(notice, now + 30 * DAY)
    check_void(actor=team.officer, check=one.checks.get(), reason="another dog", now=now)
    assert not still_true(notice, now)


def test_a_later_well_does_not_silence_the_alarm_before_it(team: Team, now: datetime) -> None:
    one = watched(team, now)
    say(team, one, "ill", now)
    say(team, one, "well", now)
    notice = Notice.objects.filter(kind=ANIMAL_WORD.name).first()
    assert notice is not None
    assert still_true(notice, now)


def test_a_site_without_a_liaison_writes_to_its_officers_once(team: Team, now: datetime) -> None:
    one = watched(team, now)
    SiteRole.objects.filter(role="liaison").delete()
    say(team, one, "died", now)
    assert told() == ["officer@example.org"]


def test_the_mail_says_a_reference_a_date_and_where_to_sign_in(team: Team, now: datetime) -> None:
    one = watched(team, now)
    say(team, one, "died", now)
    notice = Notice.objects.filter(kind=ANIMAL_WORD.name).first()
    assert notice is not None
    text = build_mail(notice, local(team, now)).as_string().casefold()
    assert one.incident.reference.casefold() in text
    words = (
        "animal",
        "dog",
        "cat ",
        "bite",
        "rabies",
        "died",
        "death",
        "ill ",
        "sample",
        "brown",
        "keeper",
        "test member",
    )
    assert not [word for word in words if word in text]


def died_and_sampled(team: Team, now: datetime) -> Observation:
    """A dog that died and was sampled; every mail so far was seen by the officer, and a neighbour is told last."""
    SiteRules.objects.filter(site=team.site).update(further_contact_email="home@example.org")
    one = watched(team, now)
    for outcome in ("died", "sampled"):
        outcome_record(
            actor=team.liaison, observation=one, outcome=outcome, known_on=local(team, now), now=now
        )
    sent(now)
    for row in Notice.objects.filter(email="officer@example.org"):
        assert notice_acknowledge(notice=row, now=now)
    return one


def sent(now: datetime) -> None:
    Notice.objects.filter(state="waiting").update(state="sent", settled_at=now)


def found(team: Team, one: Observation, now: datetime) -> None:
    outcome_record(actor=team.liaison, observation=one, outcome="found", known_on=local(team, now), now=now)
    sent(now)


def passed_on(now: datetime) -> list[str]:
    origin_reconcile(origin=SILENCES, now=now + timedelta(hours=4))
    return list(Notice.objects.filter(kind="unanswered").values_list("email", flat=True))


def test_a_word_about_one_mail_of_the_day_is_none_about_the_next(team: Team, now: datetime) -> None:
    found(team, died_and_sampled(team, now), now)
    assert passed_on(now) == ["home@example.org"]


def test_what_a_laboratory_says_of_a_closed_case_is_passed_on_too(team: Team, now: datetime) -> None:
    one = died_and_sampled(team, now)
    Incident.objects.filter(pk=one.incident_id).update(
        closed_at=now, closed_by=team.officer, close_reason="learned"
    )
    found(team, one, now + DAY)
    assert passed_on(now + DAY) == ["home@example.org"]


def test_of_a_voided_observation_nothing_is_passed_on(team: Team, now: datetime) -> None:
    one = died_and_sampled(team, now)
    found(team, one, now)
    observation_void(actor=team.officer, observation=one, reason="another dog", now=now)
    assert passed_on(now) == []


def test_an_animal_that_cannot_be_told_of_stops_no_other(
    team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    bad, good = watched(team, now), watched(team, now)
    honest = animal.standing_checks

    def fails(observation: Observation) -> list[AnimalCheck]:
        if observation.pk == bad.pk:
            raise ValueError("damaged")
        return honest(observation)

    monkeypatch.setattr(animal, "standing_checks", fails)
    origin_reconcile(origin=ANIMALS, now=now + 2 * DAY)
    assert set(Notice.objects.filter(kind=ANIMAL_WORD.name).values_list("incident", flat=True)) == {
        good.incident_id
    }
