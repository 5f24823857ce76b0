"""Figures in an open format, read back by the format's own parsers: Prometheus text 0.0.4 and OpenMetrics 1.0."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError
from django.test import Client
from prometheus_client.openmetrics.parser import text_string_to_metric_families as openmetrics
from prometheus_client.parser import text_string_to_metric_families as prometheus
from pytest_django import Settings

from safety.models import Heartbeat
from safety.outbox.states import State
from safety.pages.upkeep import metrics
from safety.selectors.upkeep.status import figures
from tests.factories import Team
from tests.safety.outbox.samples import make_notice
from tests.safety.pages.scenes import make_case, real_now, start_course

pytestmark = pytest.mark.django_db
KEY = "a-key-of-the-tests-only"


@pytest.fixture(autouse=True)
def _key(settings: Settings) -> None:
    settings.METRICS_KEY = KEY


def scrape(accept: str = "", key: str = KEY) -> Any:
    return Client().get("/metrics", headers={"Authorization": f"Bearer {key}", "Accept": accept})


def values(answer: Any) -> dict[str, float]:
    families = list(prometheus(answer.content.decode()))
    return {
        " ".join(
            [sample.name, *(sample.labels.get(name, "") for name in ("state", "kind"))]
        ).strip(): sample.value
        for family in families
        for sample in family.samples
    }


def test_the_figures_are_those_of_the_database(team: Team) -> None:
    now = real_now()
    make_case(team, days_ago=2)
    start_course(team, make_case(team, days_ago=2))
    make_notice(team.site, now - timedelta(minutes=7), now - timedelta(minutes=7), state=State.SENT)
    make_notice(team.site, now, now, kind="letter-soon", state=State.FAILED, settled_at=now)
    Heartbeat.objects.create(name="worker", at=now - timedelta(seconds=40))
    found = values(scrape())
    assert found["three_fifteen_cases_without_visit"] == 1
    assert found["three_fifteen_doses_overdue"] == 1
    assert found["three_fifteen_notices_refused_last_7_days"] == 1
    assert found["three_fifteen_notices sent roster-change"] == 1
    assert 40 <= found["three_fifteen_last_tick_seconds"] < 70


def test_what_concerns_one_of_a_few_people_is_counted_with_the_rest(team: Team) -> None:
    now = real_now()
    for kind in ("letter-soon", "dose-today", "recheck-soon", "briefing-today", "dates-late"):
        make_notice(team.site, now, now, kind=kind)
    answer = scrape()
    assert values(answer)["three_fifteen_notices waiting record"] == 5
    text = answer.content.decode()
    for word in ("letter", "recheck", team.site.code, team.site.name, team.person.name, "example.org"):
        assert word not in text


def test_a_service_without_anything_has_figures_all_the_same(team: Team) -> None:
    found = values(scrape())
    assert found["three_fifteen_oldest_due_notice_seconds"] == 0
    assert "three_fifteen_last_tick_seconds" not in found


def test_openmetrics_is_answered_to_who_asks_for_it(team: Team) -> None:
    make_notice(team.site, real_now(), real_now())
    answer = scrape("application/openmetrics-text; version=1.0.0")
    assert answer["Content-Type"].startswith("application/openmetrics-text")
    names = {family.name for family in openmetrics(answer.content.decode())}  # type: ignore[no-untyped-call]
    assert "three_fifteen_notices" in names and answer.content.endswith(b"# EOF\n")


@pytest.mark.parametrize(
    "given", ["", "Bearer", "Bearer wrong", f"Token {KEY}", KEY, f"Bearer {KEY}x", "Bearer é"]
)
def test_without_the_key_there_are_no_figures(team: Team, given: str) -> None:
    answer = Client().get("/metrics", headers={"Authorization": given} if given else {})
    assert answer.status_code == 401 and answer["WWW-Authenticate"] == "Bearer" and not answer.content


def test_without_a_key_in_the_settings_there_is_no_such_page(team: Team, settings: Settings) -> None:
    settings.METRICS_KEY = None
    assert scrape().status_code == 404 and scrape(key="None").status_code == 404


def test_a_database_that_does_not_answer_is_a_failure(team: Team, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_now: object) -> None:
        raise DatabaseError("gone")

    monkeypatch.setattr(metrics, "figures", broken)
    assert scrape().status_code == 503


def test_a_scrape_costs_the_same_whatever_there_is(team: Team, django_assert_max_num_queries: Any) -> None:
    now = real_now()
    with django_assert_max_num_queries(9):
        figures(now)
    for _ in range(3):
        make_case(team)
        make_notice(team.site, now, now)
    with django_assert_max_num_queries(9):
        figures(now)
