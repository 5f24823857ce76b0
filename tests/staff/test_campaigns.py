"""Planning a team to a campaign's start, and recording who really came to a session."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from staff.ground.errors import Conflict, Invalid
from staff.models import Campaign, Dose, Person, Session, SessionPlace
from staff.rules.record.series import evaluate_series
from staff.selectors.campaign.campaigns import Prospect, candidate_days, members_outlook, propose
from staff.selectors.campaign.sessions import session_lines
from staff.selectors.record.readiness import readiness_of
from staff.services.campaign.campaigns import campaign_people_set, fingerprint, sessions_plan
from staff.services.campaign.sessions import session_record
from staff.services.record.holds import hold_place
from staff.services.record.records import dose_void
from tests.factories import Team, give_doses, make_person
from tests.staff.planning.scenes import (
    keep_proposal,
    make_campaign,
    newcomers,
    notes_of,
    skin_campaign,
)

pytestmark = pytest.mark.django_db
EVERY_DAY = range(7)


def test_each_person_is_ready_or_can_be_or_waits_or_must_be_replaced(team: Team, now: datetime) -> None:
    people = {
        name: make_person(team.site, team.officer, now, number=name, name=name)
        for name in ("ready", "begun", "held", "late")
    }
    give_doses(people["ready"], team.officer, now, 60, 53, 39)
    give_doses(people["begun"], team.officer, now, 7)
    give_doses(people["held"], team.officer, now, 60, 53, 39)
    hold_place(
        actor=team.officer, person=people["held"], starts_on=now.date(), reason="asks the clinician", now=now
    )
    campaign = make_campaign(team, now, days_ahead=20, people=people.values())
    found = {row.person.name: row for row in members_outlook(campaign, team.site.local_date(now))}
    assert {name: row.prospect for name, row in found.items()} == {
        "ready": Prospect.READY,
        "begun": Prospect.IN_TIME,
        "held": Prospect.DECISION,
        "late": Prospect.LATE,
    }
    assert found["begun"].next_dose_last_on == team.site.local_date(now) + timedelta(days=6)
    assert found["late"].way.clear_on == team.site.local_date(now) + timedelta(days=21)
    assert found["late"].replace


def test_the_planned_sessions_make_everybody_clear_on_the_first_day(team: Team, now: datetime) -> None:
    """Each date is read again by evaluate_series, and the whole is lived through on the record."""
    people = newcomers(team, now, 12)
    for person in people[:4]:
        give_doses(person, team.officer, now, 9)
    campaign = skin_campaign(team, now, days_ahead=30, people=people)
    sessions = keep_proposal(team, campaign, now)
    assert SessionPlace.objects.count() == 36  # into the skin a series begun into the muscle starts anew
    for session in sessions:
        later = now + (session.held_on - now.date())
        session_record(actor=team.liaison, session=session, notes=notes_of(session, "given"), now=later)
    for person in Person.objects.filter(pk__in=[one.pk for one in people]):
        doses = [dose.as_fact() for dose in person.doses.select_related("regimen")]
        result = evaluate_series(regimen=campaign.regimen.as_rule(), doses=doses, on=campaign.starts_on)
        assert result.complete_on is not None and result.complete_on <= campaign.starts_on
        assert readiness_of(person, campaign.starts_on).clear


def test_who_didnt_come_is_proposed_again_and_who_came_is_not(team: Team, now: datetime) -> None:
    campaign = skin_campaign(team, now, days_ahead=40, people=newcomers(team, now, 3))
    session = keep_proposal(team, campaign, now)[0]
    missed, *came = notes_of(session, "given")
    notes = [replace(missed, outcome="absent"), *came]
    session_record(actor=team.liaison, session=session, notes=notes, now=now)
    away = SessionPlace.objects.get(session=session, outcome="absent")
    tomorrow = now + timedelta(days=1)
    keep_proposal(team, campaign, tomorrow)
    waiting = SessionPlace.objects.filter(outcome="expected")
    assert set(waiting.filter(person=away.person).values_list("number", flat=True)) == {1, 2, 3}
    assert set(waiting.exclude(person=away.person).values_list("number", flat=True)) == {2, 3}


def test_a_proposal_seen_before_a_record_changed_is_refused(team: Team, now: datetime) -> None:
    people = newcomers(team, now, 2)
    campaign = skin_campaign(team, now, days_ahead=30, people=people)
    today = team.site.local_date(now)
    days = candidate_days(campaign, today, EVERY_DAY)
    seen = fingerprint(propose(campaign, today=today, days=days).plan)
    campaign_people_set(actor=team.officer, campaign=campaign, people=people[:1], now=now)
    with pytest.raises(Conflict, match="look at the new one"):
        sessions_plan(
            actor=team.officer, campaign=campaign, days=days, people_at_most=None, seen=seen, now=now
        )
    assert not Session.objects.exists()


def test_planning_again_moves_people_and_counts_the_change_for_their_calendars(
    team: Team, now: datetime
) -> None:
    people = newcomers(team, now, 3)
    campaign = skin_campaign(team, now, days_ahead=40, people=people)
    keep_proposal(team, campaign, now)
    campaign_people_set(actor=team.officer, campaign=campaign, people=people[:2], now=now)
    sessions = keep_proposal(team, campaign, now)
    gone = SessionPlace.objects.filter(person=people[2])
    assert set(gone.values_list("outcome", flat=True)) == {"moved"}
    assert all(session_lines(session) for session in sessions)
    assert people[2] not in {line.place.person for one in sessions for line in session_lines(one)}


def test_a_list_warns_of_a_dose_that_would_not_count_that_day(team: Team, now: datetime) -> None:
    campaign = skin_campaign(team, now, days_ahead=40, people=newcomers(team, now, 1))
    first, second, _third = keep_proposal(team, campaign, now)
    given = session_record(actor=team.liaison, session=first, notes=notes_of(first, "given"), now=now)
    assert given.doses == 1
    assert session_lines(second)[0].too_early_until is None
    second.held_on -= timedelta(days=1)
    assert session_lines(second)[0].too_early_until == second.held_on + timedelta(days=1)


def test_a_dose_voided_afterwards_is_proposed_again(team: Team, now: datetime) -> None:
    campaign = skin_campaign(team, now, days_ahead=40, people=newcomers(team, now, 1))
    session = keep_proposal(team, campaign, now)[0]
    session_record(actor=team.liaison, session=session, notes=notes_of(session, "given"), now=now)
    dose_void(actor=team.officer, dose=Dose.objects.get(), reason="wrong person", now=now)
    tomorrow = now + timedelta(days=1)
    keep_proposal(team, campaign, tomorrow)
    assert set(SessionPlace.objects.filter(outcome="expected").values_list("number", flat=True)) == {1, 2, 3}


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"route": "ID"}, "route"),
        ({"vial_ml": 0}, "vial_ml"),
        ({"people": []}, "people"),
        ({"days_ahead": -1}, "starts_on"),
    ],
)
def test_a_campaign_that_cant_be_is_refused_at_its_field(
    team: Team, now: datetime, changed: dict[str, object], field: str
) -> None:
    wanted: dict[str, object] = {"days_ahead": 30, "people": newcomers(team, now, 1), **changed}
    with pytest.raises(Invalid) as refused:
        make_campaign(team, now, **wanted)  # type: ignore[arg-type]
    assert field in refused.value.fields
    assert not Campaign.objects.exists()


def test_a_name_is_given_once_a_site(team: Team, now: datetime) -> None:
    people = newcomers(team, now, 1)
    make_campaign(team, now, days_ahead=30, people=people)
    with pytest.raises(Conflict):
        make_campaign(team, now, days_ahead=30, people=people)
