"""The published tables, each row through the doors that anybody may ask; and where they disagree, both answers.

Figures: WHO = position paper, WER 2018;93(16):201-220; WHO 2010 = WER 2010;85(32):309-320; ACIP = MMWR 2008;57(RR-3),
2010;59(RR-2):1-9 and 2022;71(18):619-627; UK = UKHSA summary of 1 May 2024 and Green Book chapter 27; CDSi = CDC
Clinical Decision Support for Immunization 4.64, antigen Rabies; AU = Australian Immunisation Handbook, rabies chapter.
Which were read in a secondary copy or are from memory stands in the source of each regimen.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from staff.models import Purpose, Regimen, SiteRules
from staff.services.records import dose_record, titre_record
from staff.services.regimens import regimen_approve
from staff.services.site_rules import site_rules_change
from tests.api.conftest import Clients
from tests.factories import Team, give_doses

pytestmark = pytest.mark.django_db
MONDAY = date(2026, 3, 2)
FAR = "2027-12-31"

# Where it stands; code; (due day, last day of its window, injections) of every visit.
SCHEDULES = [
    (
        "WHO, four doses into the muscle",
        "pep-im-0-3-7-14to28",
        [(0, 0, 1), (3, 3, 1), (7, 7, 1), (14, 28, 1)],
    ),
    ("WHO, two doses on day 0", "pep-im-0x2-7-21", [(0, 0, 2), (7, 7, 1), (21, 21, 1)]),
    ("WHO, one week into the skin", "pep-id-0x2-3x2-7x2", [(0, 0, 2), (3, 3, 2), (7, 7, 2)]),
    ("WHO 2010, into the skin", "pep-id-0x2-3x2-7x2-28x2", [(0, 0, 2), (3, 3, 2), (7, 7, 2), (28, 28, 2)]),
    (
        "WHO 2010, five doses",
        "pep-im-0-3-7-14-28",
        [(0, 0, 1), (3, 3, 1), (7, 7, 1), (14, 14, 1), (28, 28, 1)],
    ),
    ("ACIP 2010, not immunised", "pep-im-0-3-7-14", [(0, 0, 1), (3, 3, 1), (7, 7, 1), (14, 14, 1)]),
    (
        "ACIP 2010, immunocompromised",
        "pep-im-0-3-7-14-28-immunocompromised",
        [(0, 0, 1), (3, 3, 1), (7, 7, 1), (14, 14, 1), (28, 28, 1)],
    ),
    ("ACIP 2010 and WHO, immunised", "pep-immunised-im-0-3", [(0, 0, 1), (3, 3, 1)]),
    ("WHO, immunised, into the skin", "pep-immunised-id-0-3", [(0, 0, 1), (3, 3, 1)]),
    ("WHO, immunised, one visit", "pep-immunised-id-0x4", [(0, 0, 4)]),
    ("UK 2024, not or partly immunised", "pep-im-0-3-7-21", [(0, 0, 1), (3, 3, 1), (7, 7, 1), (21, 21, 1)]),
    (
        "UK 2024, immunocompromised",
        "pep-im-0-3-7-14-30-immunocompromised",
        [(0, 0, 1), (3, 3, 1), (7, 7, 1), (14, 14, 1), (30, 30, 1)],
    ),
    ("UK 2024, immunised", "pep-immunised-im-0-3to7", [(0, 0, 1), (3, 7, 1)]),
    ("WHO and ACIP 2022, before exposure", "prep-im-0-7", [(0, 0, 1), (7, 7, 1)]),
    ("WHO, before exposure, into the skin (memory)", "prep-id-0-7", [(0, 0, 2), (7, 7, 2)]),
    ("national tables, TMID 2017;2(3):23", "prep-im-0-7-21", [(0, 0, 1), (7, 7, 1), (21, 28, 1)]),
    (
        "WHO, immunocompromised (memory)",
        "prep-im-0-7-21-immunocompromised",
        [(0, 0, 1), (7, 7, 1), (21, 28, 1)],
    ),
    ("UK, fast", "prep-im-0-3-7-365", [(0, 0, 1), (3, 3, 1), (7, 7, 1), (365, 366, 1)]),
]

# Where it stands; code; days given; which of them count.
SERIES = [
    ("CDSi: day 6 does not count", "prep-im-0-7-21", (0, 6), (True, False)),
    ("CDSi: exactly 7 days (decided here: counts)", "prep-im-0-7-21", (0, 7), (True, True)),
    ("CDSi: third 13 days after the second", "prep-im-0-7-21", (0, 7, 20), (True, True, False)),
    ("CDSi: third 14 days after the second", "prep-im-0-7-21", (0, 7, 21), (True, True, True)),
    ("CDSi: late yet counts", "prep-im-0-7-21", (0, 7, 200), (True, True, True)),
    ("ACIP 2022: two doses", "prep-im-0-7", (0, 7), (True, True)),
    ("UK: fast, day 2 does not count", "prep-im-0-3-7-365", (0, 2, 7), (True, False, True)),
]


def day(number: int) -> str:
    return (MONDAY + timedelta(days=number)).isoformat()


def asked(keyed: Clients, team: Team, door: str, **body: Any) -> Any:
    answer = keyed(team.member).post(f"/api/v1/regimens/{door}/", body, format="json")
    assert answer.status_code == 200, answer.content
    return answer.json()


@pytest.mark.parametrize(("where", "code", "table"), SCHEDULES)
def test_the_days_are_those_of_the_published_table(
    where: str, code: str, table: list[tuple[int, int, int]], team: Team, keyed: Clients
) -> None:
    steps = asked(keyed, team, f"{code}/schedule", day_zero=day(0))["steps"]
    found = [(step["due_on"], step["latest_on"], step["injections"]) for step in steps]
    assert found == [(day(due), day(last), injections) for due, last, injections in table], where


@pytest.mark.parametrize(("where", "code", "given", "counts"), SERIES)
def test_a_dose_counts_as_the_published_gaps_say(
    where: str, code: str, given: tuple[int, ...], counts: tuple[bool, ...], team: Team, keyed: Clients
) -> None:
    doses = [{"given_on": day(each), "route": "IM"} for each in given]
    judged = asked(keyed, team, f"{code}/series", doses=doses, on=FAR)["doses"]
    assert tuple(dose["counts"] for dose in judged) == counts, where


@pytest.mark.parametrize(
    ("late_rule", "rest"),
    [("keep-gaps", [17, 31]), ("keep-calendar", [14, 28]), ("restart", [13, 17, 24, 38])],
)
def test_authorities_disagree_on_a_late_dose_and_each_answer_is_a_setting(
    late_rule: str, rest: list[int], team: Team, keyed: Clients
) -> None:
    """ACIP 2010's published answer keeps the gaps (17 and 31); WHO resumes with no gap stated; others start again."""
    extra = {"restart_after_days": 2} if late_rule == "restart" else {}
    steps = asked(
        keyed,
        team,
        "pep-im-0-3-7-14-28/schedule",
        day_zero=day(0),
        given=[day(0), day(3), day(10)],
        late_rule=late_rule,
        **extra,
    )["steps"]
    assert [step["due_on"] for step in steps if step["given_on"] is None] == [day(each) for each in rest]


@pytest.mark.parametrize(("mixed", "valid"), [(False, 1), (True, 2)])
def test_a_change_of_route_is_a_setting_too(mixed: bool, valid: int, team: Team, keyed: Clients) -> None:
    """Acceptable when it can't be avoided: memory of WHO 2018."""
    doses = [{"given_on": day(0), "route": "IM"}, {"given_on": day(7), "route": "ID", "injections": 2}]
    body = {"doses": doses, "on": FAR, "mixed_routes": mixed}
    assert asked(keyed, team, "prep-im-0-7/series", **body)["valid_doses"] == valid


def cleared(team: Team, keyed: Clients, on: date) -> tuple[bool, list[str]]:
    rows = keyed(team.member).get(f"/api/v1/clearance/?on={on.isoformat()}").json()
    row = next(row for row in rows if row["person"] == team.person.pk)
    return row["cleared"], [reason["code"] for reason in row["reasons"]]


def rule(team: Team, now: datetime, **changes: Any) -> None:
    rules = SiteRules.objects.get(site=team.site)
    site_rules_change(actor=team.officer, rules=rules, changes=changes, reason="letter 2", now=now)
    # Whoever is recomputed in the background is recomputed here: a dose of the past changes nothing else.
    dose_record(actor=team.officer, person=team.person, given_on=date(1999, 1, 1), evidence="none", now=now)


@pytest.mark.parametrize(("required", "clear"), [(2, True), (3, False)])
def test_two_doses_or_three_before_the_field(
    required: int, clear: bool, team: Team, keyed: Clients, now: datetime
) -> None:
    """Two: WHO 2018, ACIP 2022. Three: common practice, and the national tables."""
    two = Regimen.objects.get(code="prep-im-0-7")
    regimen_approve(
        actor=team.officer,
        regimen=two,
        site=team.site,
        authority="office",
        approved_on=date(2026, 1, 1),
        document="letter 3",
        now=now,
    )
    give_doses(team.person, team.officer, now, 30, 23)
    if required != 3:
        rule(team, now, doses_required=required)
    assert cleared(team, keyed, team.site.local_date(now))[0] is clear


@pytest.mark.parametrize(
    ("where", "months", "last"),
    [
        ("ACIP 2022, live virus: every 6 months", 6, date(2026, 8, 10)),
        ("ACIP 2022, frequent risk: every 2 years", 24, date(2028, 2, 10)),
        ("AU: every 3 years", 36, date(2029, 2, 10)),
        ("ACIP 2022, 3 years or less: none", 0, None),
    ],
)
def test_the_term_of_a_re_check_is_the_sites(
    where: str, months: int, last: date | None, team: Team, keyed: Clients, now: datetime
) -> None:
    """That the anniversary itself is covered, and its month's end where it has no such day, was decided here."""
    give_doses(team.person, team.officer, now, 41, 34, 20)  # complete on 10 February 2026
    if months:
        rule(team, now, recheck_months=months)
    assert cleared(team, keyed, last or date(2040, 1, 1)) == (True, []), where
    if last:
        assert cleared(team, keyed, last + timedelta(days=1)) == (False, ["recheck-due"]), where


@pytest.mark.parametrize(("value", "clear"), [("0.49", False), ("0.50", True), ("0.51", True)])
def test_half_a_unit_is_adequate(value: str, clear: bool, team: Team, keyed: Clients, now: datetime) -> None:
    """0.5 IU/mL and above: WHO 2018, ACIP 2022."""
    give_doses(team.person, team.officer, now, 41, 34, 20)
    today = team.site.local_date(now)
    titre_record(actor=team.officer, person=team.person, taken_on=today, iu_per_ml=Decimal(value), now=now)
    assert cleared(team, keyed, today)[0] is clear


@pytest.mark.parametrize(("asks", "clear"), [(0, False), (3, True)])
def test_a_stopped_course_counts_as_the_site_says(
    asks: int, clear: bool, team: Team, keyed: Clients, now: datetime
) -> None:
    """No published table states it for field work: a setting, off by default."""
    today = team.site.local_date(now)
    for ago in (30, 27, 23):
        dose_record(
            actor=team.officer,
            person=team.person,
            given_on=today - timedelta(days=ago),
            purpose=Purpose.POST_EXPOSURE,
            regimen=team.post_exposure,
            now=now,
        )
    if asks:
        rule(team, now, stopped_course_doses=asks)
    assert cleared(team, keyed, today)[0] is clear
