"""The outbox through the door."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from safety.models import Course, Incident
from safety.services.case.visits import visit_record
from safety.services.course.course import course_start
from safety.services.course.plan import course_plan
from staff.models import User
from tests.api.conftest import Clients
from tests.factories import Team

pytestmark = pytest.mark.django_db


@pytest.fixture
def planned(team: Team, bitten: Incident, now: datetime) -> Course:
    today = team.site.local_date(now)
    visit_record(
        actor=team.liaison, incident=bitten, clinic=team.clinic, visited_on=today, decision="course", now=now
    )
    course = course_start(
        actor=team.liaison, incident=bitten, regimen=team.post_exposure, starts_on=today, now=now
    )
    return course_plan(course_id=course.pk, now=now)


def rows(keyed: Clients, user: User, **query: Any) -> list[dict[str, Any]]:
    answer = keyed(user).get("/api/v1/notices/", query)
    assert answer.status_code == 200
    found: list[dict[str, Any]] = answer.json()
    return found


def test_the_liaison_sees_the_waiting_notices_of_their_site_alone(
    team: Team, keyed: Clients, planned: Course
) -> None:
    waiting = rows(keyed, team.liaison, state="waiting")
    assert waiting and {row["reference"] for row in waiting} == {planned.incident.reference}
    assert rows(keyed, team.liaison, state="sent") == []
    assert rows(keyed, team.stranger) == []


def test_notices_carry_no_name_and_no_product(team: Team, keyed: Clients, planned: Course) -> None:
    text = str(rows(keyed, team.liaison))
    assert team.person.name not in text and team.clinic.name not in text and "pep-" not in text


def test_pages_of_notices_follow_each_other(team: Team, keyed: Clients, planned: Course) -> None:
    whole = [row["id"] for row in rows(keyed, team.liaison)]
    first = [row["id"] for row in rows(keyed, team.liaison, limit=2)]
    rest = [row["id"] for row in rows(keyed, team.liaison, before=first[-1])]
    assert whole == first + rest and len(whole) > 3


@pytest.mark.parametrize("query", [{"state": "lost"}, {"limit": "501"}, {"before": "x"}, {"status": "sent"}])
def test_a_query_that_cannot_be_read_names_the_field(
    team: Team, keyed: Clients, query: dict[str, str]
) -> None:
    answer = keyed(team.liaison).get("/api/v1/notices/", query)
    assert (answer.status_code, list(answer.json()["fields"])) == (400, list(query))
