"""Recording who really came to a vaccination session."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from staff.ground.errors import Conflict, Invalid
from staff.models import AuditEntry, Dose, Person, Session, SessionPlace
from staff.selectors.campaign.sessions import session_lines
from staff.selectors.record.readiness import readiness_of
from staff.services.campaign.campaigns import campaign_people_set, session_cancel
from staff.services.campaign.session_notes import Note
from staff.services.campaign.sessions import session_record
from staff.services.record.records import dose_record, dose_void
from tests.factories import Team, give_doses, make_person
from tests.staff.planning.scenes import keep_proposal, newcomers, notes_of, skin_campaign

pytestmark = pytest.mark.django_db


def first_session(team: Team, now: datetime, people: int = 3) -> Session:
    campaign = skin_campaign(team, now, days_ahead=30, people=newcomers(team, now, people))
    return keep_proposal(team, campaign, now)[0]


def walk_in(person: Person, row: str = "new0", **said: object) -> Note:
    return Note(row, person.pk, "given", planned=False, **said)  # type: ignore[arg-type]


def rows() -> tuple[int, int, int]:
    return Dose.objects.count(), AuditEntry.objects.count(), SessionPlace.objects.count()


def test_the_second_submit_of_who_came_changes_nothing(team: Team, now: datetime) -> None:
    session = first_session(team, now)
    missed, *came = notes_of(session, "given", batch="B1")
    notes = [replace(missed, outcome="absent", reason="on leave"), *came, walk_in(team.person, batch="B2")]
    first = session_record(actor=team.liaison, session=session, notes=notes, now=now)
    before = rows()
    again = session_record(actor=team.officer, session=session, notes=notes, now=now)
    assert (first.doses, first.changed, again.doses, again.changed) == (3, 1, 0, 0)
    assert rows() == before
    assert sorted((dose.batch, dose.route) for dose in Dose.objects.all()) == [
        ("B1", "ID"),
        ("B1", "ID"),
        ("B2", "ID"),
    ]
    assert SessionPlace.objects.get(outcome="absent").reason == "on leave"


@pytest.mark.parametrize(
    "other",
    [{"outcome": "absent"}, {"outcome": "expected"}, {"batch": "B2"}, {"product": "Other"}],
    ids=lambda other: next(iter(other)),
)
def test_another_word_about_a_dose_on_record_is_refused_by_name(
    team: Team, now: datetime, other: dict[str, str]
) -> None:
    session = first_session(team, now)
    notes = notes_of(session, "given", batch="B1")
    session_record(actor=team.liaison, session=session, notes=notes[:1], now=now)
    changed = [replace(notes[0], **other), *notes[1:]]
    with pytest.raises(Conflict) as refused:
        session_record(actor=team.officer, session=session, notes=changed, now=now)
    assert set(refused.value.fields) == {f"{notes[0].row}-outcome"}
    assert "Newcomer 00 (N0): A dose of" in refused.value.message and "B1" in refused.value.message
    assert Dose.objects.count() == 1, "nobody else's dose went in with it"


def test_a_dose_voided_since_isnt_entered_again_by_an_old_list(team: Team, now: datetime) -> None:
    session = first_session(team, now)
    notes = notes_of(session, "given")
    session_record(actor=team.liaison, session=session, notes=notes, now=now)
    dose_void(actor=team.officer, dose=Dose.objects.first(), reason="wrong person", now=now)  # type: ignore[arg-type]
    with pytest.raises(Conflict, match="voided since"):
        session_record(actor=team.liaison, session=session, notes=notes, now=now)
    assert Dose.everything.count() == 3


def test_every_wrong_row_is_named_and_nothing_is_half_written(team: Team, now: datetime) -> None:
    session = first_session(team, now, people=4)
    give_doses(Person.objects.get(number="N0"), team.officer, now, 0)
    notes = notes_of(session, "given")
    notes[1] = replace(notes[1], given_on=session.held_on + timedelta(days=1))
    notes[2] = replace(notes[2], outcome="refused")
    before = rows()
    with pytest.raises(Conflict) as refused:
        session_record(actor=team.officer, session=session, notes=notes, now=now)
    fields = [f"{notes[0].row}-given_on", f"{notes[1].row}-given_on", f"{notes[2].row}-reason"]
    assert list(refused.value.fields) == fields
    for name in ("Newcomer 00 (N0): ", "Newcomer 01 (N1): ", "Newcomer 02 (N2): "):
        assert name in refused.value.message
    assert "not noted yet" in refused.value.fields[fields[0]]
    assert rows() == before
    assert set(session.places.values_list("outcome", flat=True)) == {"expected"}


@pytest.mark.parametrize(("days", "kept"), [(-1, False), (0, True), (1, True), (2, True), (3, False)])
def test_the_day_lies_from_the_session_to_today(team: Team, now: datetime, days: int, kept: bool) -> None:
    """The session was two days ago: the day before it and tomorrow are refused."""
    session = first_session(team, now)
    given_on = session.held_on + timedelta(days=days)
    notes = notes_of(session, "given", given_on=given_on)
    later = now + timedelta(days=2)
    if kept:
        session_record(actor=team.officer, session=session, notes=notes, now=later)
        assert {dose.given_on for dose in Dose.objects.all()} == {given_on}
        return
    with pytest.raises(Invalid) as refused:
        session_record(actor=team.officer, session=session, notes=notes, now=later)
    assert set(refused.value.fields) == {f"{note.row}-given_on" for note in notes}
    assert not Dose.objects.exists()


def test_a_session_ahead_or_cancelled_cant_be_recorded(team: Team, now: datetime) -> None:
    campaign = skin_campaign(team, now, days_ahead=30, people=newcomers(team, now, 2))
    first, *later = keep_proposal(team, campaign, now)
    with pytest.raises(Conflict, match="lies ahead"):
        session_record(actor=team.liaison, session=later[0], notes=notes_of(later[0], "given"), now=now)
    session_cancel(actor=team.officer, session=first, reason="no vaccine", now=now)
    with pytest.raises(Conflict, match="cancelled"):
        session_record(actor=team.liaison, session=first, notes=notes_of(first, "given"), now=now)
    with pytest.raises(Conflict, match="cancelled"):
        session_cancel(actor=team.officer, session=first, reason="again", now=now)
    assert not Dose.objects.exists()


def test_who_came_unplanned_gets_the_dose_that_is_missing(team: Team, now: datetime) -> None:
    """Into the muscle before, into the skin now: with mixed routes the second dose, else the first."""
    session = first_session(team, now)
    give_doses(team.person, team.officer, now, 9)
    other = make_person(team.site, team.officer, now, number="8", name="Second Comer")
    session_record(actor=team.liaison, session=session, notes=[walk_in(other)], now=now)
    team.site.rules.mixed_routes = True
    team.site.rules.save()
    session_record(actor=team.liaison, session=session, notes=[walk_in(team.person)], now=now)
    found = {place.person.name: place for place in session.places.filter(planned=False)}
    assert {name: (one.number, one.outcome) for name, one in found.items()} == {
        "Second Comer": (1, "given"),
        "Test Member": (2, "given"),
    }
    session.refresh_from_db()
    assert session.state == "held"


def test_a_complete_series_makes_the_dose_of_who_came_unplanned_a_booster(team: Team, now: datetime) -> None:
    session = first_session(team, now)
    give_doses(team.person, team.officer, now, 900, 893, 879)
    session_record(actor=team.liaison, session=session, notes=[walk_in(team.person)], now=now)
    dose = team.person.doses.get(given_on=session.held_on)
    assert (dose.purpose, dose.regimen) == ("booster", None)
    assert readiness_of(team.person, session.held_on).clear


def test_a_dose_too_early_is_recorded_and_said_not_to_count(team: Team, now: datetime) -> None:
    session = first_session(team, now)
    for days, counts in ((6, False), (7, True)):
        person = make_person(team.site, team.officer, now, number=f"E{days}", name=f"Early {days}")
        given_on = session.held_on - timedelta(days=days)
        dose_record(actor=team.officer, person=person, given_on=given_on, route="ID", now=now)
        session_record(actor=team.liaison, session=session, notes=[walk_in(person)], now=now)
        line = next(line for line in session_lines(session) if line.place.person_id == person.pk)
        assert line.uncounted == ("" if counts else "1 day too early.")


def test_somebody_moved_to_another_day_may_come_all_the_same(team: Team, now: datetime) -> None:
    session = first_session(team, now)
    moved = session.places.select_related("person")[0]
    rest = Person.objects.filter(campaign_memberships__campaign=session.campaign).exclude(pk=moved.person_id)
    campaign_people_set(actor=team.officer, campaign=session.campaign, people=rest, now=now)
    planned = Note("p1", moved.person_id, "given")
    with pytest.raises(Invalid, match="isn't on the list any more"):
        session_record(actor=team.liaison, session=session, notes=[planned], now=now)
    session_record(actor=team.liaison, session=session, notes=[walk_in(moved.person)], now=now)
    moved.refresh_from_db()
    assert (moved.outcome, moved.planned) == ("given", False)


def test_who_stands_on_the_list_or_in_two_rows_isnt_added_below(team: Team, now: datetime) -> None:
    session = first_session(team, now)
    listed = Person.objects.get(number="N1")
    twice = [walk_in(team.person), walk_in(team.person, "new1", given_on=session.held_on)]
    with pytest.raises(Invalid) as refused:
        session_record(actor=team.liaison, session=session, notes=[*twice, walk_in(listed, "new2")], now=now)
    assert set(refused.value.fields) == {"new1-number", "new2-number"}
    assert not Dose.objects.exists()


def test_people_of_another_site_are_refused_without_their_name(team: Team, now: datetime) -> None:
    session = first_session(team, now)
    foreign = make_person(team.other_site, team.stranger, now, number="N0", name="Foreign Person")
    for note in (walk_in(foreign), Note("p9", foreign.pk, "given"), Note("p9", 10**9, "given")):
        with pytest.raises(Invalid) as refused:
            session_record(actor=team.liaison, session=session, notes=[note], now=now)
        assert "Foreign" not in refused.value.message
    assert not Dose.objects.exists()
