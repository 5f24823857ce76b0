"""Beginning to watch, checks, outcomes, and taking each of them back."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from safety.errors import Conflict, Invalid
from safety.rules.animal.observation import Seen, Watch
from safety.selectors.animal.observation import every_check, state_of, words_of
from safety.selectors.case.desk import Task, desk_of
from safety.services.animal.observation import check_record, observation_begin, outcome_record
from safety.services.animal.observation_voids import check_void, observation_void, outcome_void
from safety.services.case.closing import incident_close
from staff.models import AuditEntry, User
from tests.factories import Team
from tests.safety.animal.scenes import DAY, again, bitten, check_days, local, watched

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("animal", ["bat", "other", "unknown"])
def test_other_animals_are_not_watched(team: Team, now: datetime, animal: str) -> None:
    with pytest.raises(Conflict, match="dog or a cat"):
        observation_begin(actor=team.liaison, incident=bitten(team, now, animal), described="a bat", now=now)


@pytest.mark.parametrize("animal", ["dog-owned", "dog-roaming", "cat"])
def test_the_last_day_follows_the_sites_rule_by_the_sites_calendar(team: Team, animal: str) -> None:
    team.site.rules.observation_days = 14
    team.site.rules.save()
    # 22:30 UTC is half past one of the next day in Nairobi.
    late = datetime(2028, 2, 25, 22, 30, tzinfo=UTC)
    incident = bitten(team, late, animal)
    made = observation_begin(actor=team.liaison, incident=incident, described="it", now=late + 3 * DAY)
    assert (made.first_on, made.last_on) == (date(2028, 2, 26), date(2028, 3, 11))
    assert made.term.asked_from == date(2028, 2, 29)


def test_one_animal_a_case_and_a_new_one_after_the_first_is_voided(team: Team, now: datetime) -> None:
    first = watched(team, now)
    with pytest.raises(Conflict, match="being watched"):
        observation_begin(actor=team.liaison, incident=first.incident, described="another", now=now)
    observation_void(actor=team.liaison, observation=first, reason="wrong dog", now=now)
    second = observation_begin(actor=team.liaison, incident=first.incident, described="the dog", now=now)
    assert again(second) == second
    with pytest.raises(Conflict, match="voided"):
        check_record(observation=first, actor=team.liaison, day=local(team, now), seen="well", now=now)


def test_the_newest_word_of_a_day_counts_and_a_voided_one_gives_way(team: Team, now: datetime) -> None:
    one, today = watched(team, now), local(team, now)
    check_record(observation=one, actor=team.liaison, day=today, seen="well", now=now)
    ill = check_record(observation=one, actor=team.officer, day=today, seen="ill", now=now)
    assert words_of(again(one)) == {today: Seen.ILL}
    check_void(actor=team.liaison, check=ill, reason="another dog", now=now)
    assert words_of(again(one)) == {today: Seen.WELL}
    assert len(every_check(one)) == 2
    with pytest.raises(Conflict, match="voided already"):
        check_void(actor=team.liaison, check=ill, reason="again", now=now)


def test_the_same_word_again_by_the_same_is_the_same_row(team: Team, now: datetime) -> None:
    one, today = watched(team, now), local(team, now)
    for _turn in range(3):
        check_record(observation=one, actor=team.liaison, day=today, seen="well", now=now)
    assert again(one).checks.count() == 1


@pytest.mark.parametrize(("days", "field"), [(-1, "day"), (1, "day")])
def test_a_check_before_the_exposure_or_of_tomorrow_is_refused(
    team: Team, now: datetime, days: int, field: str
) -> None:
    one = watched(team, now)
    with pytest.raises(Invalid) as caught:
        check_record(
            observation=one, actor=team.liaison, day=local(team, now + days * DAY), seen="well", now=now
        )
    assert field in caught.value.fields


def test_well_at_the_end_is_refused_the_day_before_and_taken_on_the_last_day(
    team: Team, now: datetime
) -> None:
    one = watched(team, now)
    check_days(team, one, now, *range(1, 10))
    for number, said in ((9, "through"), (10, "newest check")):
        day = now + number * DAY
        with pytest.raises(Conflict, match=said):
            outcome_record(
                actor=team.liaison, observation=one, outcome="well", known_on=local(team, day), now=day
            )
    check_days(team, one, now, 10)
    end = now + 10 * DAY
    made = outcome_record(
        actor=team.liaison, observation=one, outcome="well", known_on=local(team, end), now=end
    )
    assert state_of(again(one), local(team, end)) is Watch.ENDED
    with pytest.raises(Conflict, match="has ended"):
        check_days(team, one, now, 11)
    outcome_void(actor=team.officer, outcome=made, reason="it was another dog", now=end)
    assert state_of(again(one), local(team, end)) is Watch.LAST_DAY


def test_a_case_is_not_closed_while_its_animal_is_watched(team: Team, now: datetime) -> None:
    incident = bitten(team, now)
    incident.wounds.update(contact="licked-intact-skin", broke_skin="no", bled="no")
    observation_begin(actor=team.liaison, incident=incident, described="dog", now=now)
    with pytest.raises(Conflict) as caught:
        incident_close(actor=team.officer, incident=incident, reason="done", now=now)
    assert caught.value.code == "animal-watched"


def test_the_laboratorys_answer_is_recorded_after_the_case_is_closed(team: Team, now: datetime) -> None:
    one, today = watched(team, now), local(team, now)
    for said in ("died", "sampled"):
        outcome_record(actor=team.liaison, observation=one, outcome=said, known_on=today, now=now)
    one.incident.wounds.update(contact="licked-intact-skin", broke_skin="no", bled="no")
    incident_close(actor=team.officer, incident=one.incident, reason="clinic has it", now=now)
    outcome_record(actor=team.liaison, observation=one, outcome="found", known_on=today, now=now)
    assert state_of(again(one), today) is Watch.ENDED


def test_every_change_is_in_the_audit_trail_without_the_keepers_name(team: Team, now: datetime) -> None:
    one, today = watched(team, now), local(team, now)
    check = check_record(observation=one, actor=team.liaison, day=today, seen="ill", now=now)
    made = outcome_record(actor=team.liaison, observation=one, outcome="ill", known_on=today, now=now)
    check_void(actor=team.liaison, check=check, reason="slip", now=now)
    outcome_void(actor=team.liaison, outcome=made, reason="slip", now=now)
    observation_void(actor=team.liaison, observation=one, reason="slip", now=now)
    rows = AuditEntry.objects.filter(action__startswith="animal.").order_by("pk")
    assert [row.action.partition(".")[2] for row in rows] == [
        "begun",
        "checked",
        "outcome",
        "check-voided",
        "outcome-voided",
        "voided",
    ]
    assert not [row for row in rows if "Keeper" in str(row.detail)]


def asked_of(user: User, now: datetime) -> list[Task]:
    """What the desk of `user` asks about animals, in its order."""
    desk = desk_of(user, now)
    return [task for task in (*desk.late, *desk.today, *desk.coming) if task.need.code.startswith("animal-")]


def test_the_desk_asks_for_what_is_late_first_and_for_nothing_of_other_sites(
    team: Team, now: datetime
) -> None:
    late, fresh, sampled = watched(team, now), watched(team, now), watched(team, now)
    check_days(team, fresh, now, 1)
    outcome_record(
        actor=team.liaison, observation=sampled, outcome="sampled", known_on=local(team, now), now=now
    )
    second = now + 2 * DAY
    rows = asked_of(team.liaison, second)
    asked = {row.incident.pk: (row.need.code, row.need.late) for row in rows}
    assert asked == {
        late.incident_id: ("animal-check-missing", True),
        sampled.incident_id: ("animal-laboratory", True),
        fresh.incident_id: ("animal-check-today", False),
    }
    assert [row.need.late for row in rows] == [True, True, False]
    assert asked_of(team.stranger, second) == []
    assert asked_of(team.member, second) == []


@pytest.mark.parametrize(
    ("number", "code", "overdue"),
    [(9, "check-missing", True), (10, "last-day", False), (11, "last-day", True)],
)
def test_the_desk_asks_how_it_ended_from_the_last_day_on(
    team: Team, now: datetime, number: int, code: str, overdue: bool
) -> None:
    watched(team, now)
    (row,) = asked_of(team.officer, now + number * DAY)
    assert (row.need.code, row.need.late) == (f"animal-{code}", overdue)


def test_the_desk_asks_the_database_the_same_number_of_questions_however_many_animals(
    team: Team, now: datetime, django_assert_num_queries: object
) -> None:
    watched(team, now)
    with CaptureQueriesContext(connection) as one:
        desk_of(team.liaison, now)
    for _turn in range(4):
        watched(team, now + timedelta(minutes=_turn))
    with django_assert_num_queries(len(one)):  # type: ignore[operator]
        assert asked_of(team.liaison, now + DAY)


def test_the_check_on_which_well_at_the_end_rests_is_voided_only_after_it(team: Team, now: datetime) -> None:
    one, end = watched(team, now), now + 10 * DAY
    check_days(team, one, now, *range(1, 11))
    well = outcome_record(
        actor=team.liaison, observation=one, outcome="well", known_on=local(team, end), now=end
    )
    first, last = one.checks.earliest("day"), one.checks.latest("day")
    check_void(actor=team.liaison, check=first, reason="another dog", now=end)
    with pytest.raises(Conflict, match="rests on this check"):
        check_void(actor=team.liaison, check=last, reason="another dog", now=end)
    last.refresh_from_db()
    assert last.voided_at is None
    outcome_void(actor=team.liaison, outcome=well, reason="another dog", now=end)
    check_void(actor=team.liaison, check=last, reason="another dog", now=end)
    assert state_of(again(one), local(team, end)) is Watch.LAST_DAY
