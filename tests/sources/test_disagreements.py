"""Where authorities disagree, each answer is a setting of the site or a row of its table, and both are shown here.

Sources in brief; each is cited in full by the module of its name. WHO = WER 2018;93(16):201-220; ACIP = MMWR
2008;57(RR-3), 2010;59(RR-2) and 2022;71(18):619-627; UK = UKHSA summary of 1 May 2024 and Green Book chapter 27;
AU = Australian Immunisation Handbook; Asia = Trop Med Infect Dis 2017;2(3):23.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from safety.rules.animal.observation import observation_ends_on
from staff.models import RulesChange, SiteRules
from tests.sources.doors import TODAY, Doors, days_on

pytestmark = pytest.mark.django_db

TWO, THREE, FIVE = "prep-im-0-7", "prep-im-0-7-21", "pep-im-0-3-7-14-28"
WEAK_28, WEAK_30 = "pep-im-0-3-7-14-28-immunocompromised", "pep-im-0-3-7-14-30-immunocompromised"


@pytest.mark.parametrize(
    ("code", "due", "latest"),
    [("pep-im-0-3-7-14", 14, 14), ("pep-im-0-3-7-21", 21, 21), ("pep-im-0-3-7-14to28", 14, 28)],
    ids=["ACIP 2010: 14", "UK: 21", "WHO: 14 to 28 (2nd)"],
)
def test_the_last_day_of_four_doses(code: str, due: int, latest: int, doors: Doors) -> None:
    doors.approve(code)
    steps = doors.course_of_today(code)
    assert [step["due_on"] for step in steps] == days_on(TODAY, (0, 3, 7, due))
    assert steps[-1]["latest_on"] == days_on(TODAY, [latest])[0]


@pytest.mark.parametrize(("code", "day"), [(WEAK_28, 28), (WEAK_30, 30)], ids=["ACIP 2010: 28", "UK: 30"])
def test_the_day_of_the_fifth_dose(code: str, day: int, doors: Doors) -> None:
    doors.approve(code)
    assert [step["due_on"] for step in doors.course_of_today(code)] == days_on(TODAY, (0, 3, 7, 14, day))


@pytest.mark.parametrize(
    ("required", "clear"),
    [(2, True), (3, False)],
    ids=["2: WHO, ACIP 2022", "3: common practice, no source; national tables (Asia)"],
)
def test_two_doses_or_three_before_the_field(required: int, clear: bool, doors: Doors) -> None:
    doors.use(TWO, doses_required=required)
    doors.given(TODAY - timedelta(days=30), TODAY - timedelta(days=23))
    assert doors.clear(TODAY) == (clear, [] if clear else ["too-few-doses"])


@pytest.mark.parametrize(
    ("code", "window", "late_on_22", "late_on_29"),
    [(THREE, (21, 21), 1, 8), ("prep-im-0-7-28", (28, 28), 0, 1), (THREE, (21, 28), 0, 1)],
    ids=["21 alone", "28: Green Book (2nd)", "between: ACIP 2008, AU"],
)
def test_the_day_of_the_third_dose(
    code: str, window: tuple[int, int], late_on_22: int, late_on_29: int, doors: Doors
) -> None:
    """Each a row; a site that wants day 21 alone drafts and approves a version of its own."""
    if window == (21, 21):
        doors.own_version(THREE, 3, latest_day=21)
    third = doors.schedule(code, TODAY)[2]
    assert [third["due_on"], third["latest_on"]] == days_on(TODAY, window)
    for day, late in ((22, late_on_22), (29, late_on_29)):
        assert doors.schedule(code, TODAY, (0, 7, day))[2]["days_late"] == late


@pytest.mark.parametrize(
    ("minutes", "state", "short"),
    [(15, "short", 180), (10, "reached", 0), (12, "reached", 0), (13, "short", 60)],
    ids=[
        "15: practice, WHO (2nd)",
        "at least 10 (older texts)",
        "10 to 15: 12 chosen",
        "10 to 15: 13 chosen",
    ],
)
def test_minutes_of_washing(minutes: int, state: str, short: int, doors: Doors) -> None:
    """Twelve minutes with soap against each target."""
    if minutes != 15:
        doors.rule(wash_minutes=minutes)
    spell = {"started_at": "2026-03-02T05:40:00Z", "stopped_at": "2026-03-02T05:52:00Z", "soap": "yes"}
    found = doors.post(f"incidents/{doors.bitten()}/washing/", 201, **spell)
    assert (found["state"], found["short_seconds"]) == (state, short)


@pytest.mark.parametrize(
    ("days", "ends"),
    [(10, date(2026, 3, 12)), (14, date(2026, 3, 16))],
    ids=["10: WHO (2nd)", "14: one country"],
)
def test_days_the_dog_or_cat_is_watched(days: int, ends: date, doors: Doors) -> None:
    """The figure is the site's. No door tells the date yet: the setting and the rule are asked themselves."""
    if days != 10:
        doors.rule(observation_days=days)
        assert RulesChange.objects.get().changes == {"observation_days": {"old": 10, "new": 14}}
    stated = SiteRules.objects.get(site=doors.team.site).observation_days
    assert observation_ends_on(TODAY, stated) == ends


LATE: list[tuple[str, dict[str, Any], list[int]]] = [
    ("ACIP 2010: the gaps are kept (2nd)", {}, [17, 31]),
    ("WHO: resume, no gap stated", {"late_rule": "keep-calendar"}, [14, 28]),
    (
        "start again past 2 days (2nd, weak)",
        {"late_rule": "restart", "restart_after_days": 2},
        [13, 17, 24, 38],
    ),
    ("start again past 3 days: not past it", {"late_rule": "restart", "restart_after_days": 3}, [17, 31]),
]


@pytest.mark.parametrize(("where", "rule", "rest"), LATE, ids=[row[0] for row in LATE])
def test_the_doses_after_a_late_one(where: str, rule: dict[str, Any], rest: list[int], doors: Doors) -> None:
    """The day-7 dose on day 10. The course takes the rule its site has, and its doses are dated by it."""
    if rule:
        doors.rule(**rule)
    computed = doors.schedule(FIVE, TODAY, (0, 3, 10), **rule)
    assert [step["due_on"] for step in computed if step["given_on"] is None] == days_on(TODAY, rest), where
    first = TODAY - timedelta(days=10)
    assert doors.course_after(FIVE, first, (0, 3, 10)) == days_on(first, rest), where


@pytest.mark.parametrize(
    ("rule", "last"),
    [
        ({"recheck_months": 6}, date(2020, 9, 23)),
        ({"recheck_months": 24}, date(2023, 3, 2)),
        ({"recheck_months": 36}, date(2024, 3, 2)),
        ({"recheck_months": 36, "recheck_once": True}, None),
        ({}, None),
    ],
    ids=[
        "ACIP 2022, AU: 6 months (live virus)",
        "ACIP 2022: 2 years",
        "AU, Bhutan: every 3 years after the booster at a year",
        "ACIP 2022: one booster, once",
        "ACIP 2022: none",
    ],
)
def test_the_interval_of_boosters(rule: dict[str, Any], last: date | None, doors: Doors) -> None:
    """Complete on 23 March 2020, and a booster a year after the first dose, on 2 March 2021."""
    if rule:
        doors.rule(**rule)
    doors.given(*(date(2020, 3, 2) + timedelta(days=day) for day in (0, 7, 21)))
    doors.given(date(2021, 3, 2), purpose="booster")
    assert doors.clear(last or date(2060, 1, 1)) == (True, [])
    if last:
        assert doors.clear(last + timedelta(days=1)) == (False, ["recheck-due"])


@pytest.mark.parametrize(
    ("rule", "clear"), [({"recheck_months": 36}, False), ({}, True)], ids=["ACIP 2022: lapsed", "AU: valid"]
)
def test_two_doses_older_than_three_years_without_titre_or_booster(
    rule: dict[str, Any], clear: bool, doors: Doors
) -> None:
    """Complete on 1 March 2023: three years and a day ago."""
    doors.use(TWO, doses_required=2)
    if rule:
        doors.rule(**rule)
    doors.given(date(2023, 2, 22), date(2023, 3, 1))
    assert doors.clear(date(2026, 3, 1)) == (True, [])
    assert doors.clear(TODAY) == (clear, [] if clear else ["recheck-due"])


@pytest.mark.parametrize(
    ("decision", "courses"),
    [("no-course", 0), ("course", 1)],
    ids=["WHO, AU: wound care alone within 3 months (memory)", "ACIP: two doses whatever the gap (memory)"],
)
def test_bitten_again_soon_after_a_full_course(decision: str, courses: int, doors: Doors) -> None:
    """The program proposes neither: the clinician's word is recorded, and with it the person is clear again."""
    days = [TODAY - timedelta(days=30 - day) for day in (0, 3, 7, 14, 28)]
    doors.course(FIVE, *days)
    incident = doors.bitten()
    assert doors.clear(TODAY) == (False, ["held"])
    doors.seen(incident, decision)
    asked = {"regimen": "pep-immunised-im-0-3", "starts_on": TODAY.isoformat()}
    answer = doors.post(f"incidents/{incident}/course/", 201 if courses else 409, **asked)
    if courses:
        assert answer["regimen"] == "pep-immunised-im-0-3"
    assert doors.clear(TODAY + timedelta(days=1)) == (True, [])


@pytest.mark.parametrize(
    "code", [WEAK_28, "pep-immunised-im-0-3"], ids=["AU: five doses", "AU before, ACIP: two"]
)
def test_immunised_and_immunocompromised_is_the_clinicians_alone(code: str, doors: Doors) -> None:
    """Nothing is proposed before the field, and after a bite the course is the one the clinician ordered."""
    doors.use(code)
    doors.given(*(TODAY - timedelta(days=ago) for ago in (41, 34, 20)))
    doors.immunocompromised()
    found = doors.explained()
    assert (found["cleared"], found["earliest_clear_on"]) == (False, None)
    assert [action["kind"] for action in found["actions"]] == ["decision"]
    assert doors.course_of_today(code)[0]["due_on"] == TODAY.isoformat()


@pytest.mark.parametrize(
    ("mixed", "valid"), [(False, 1), (True, 2)], ids=["no", "when unavoidable: WHO (memory)"]
)
def test_a_change_of_route_within_a_series(mixed: bool, valid: int, doors: Doors) -> None:
    doses = [
        {"given_on": TODAY.isoformat(), "route": "IM"},
        {"given_on": days_on(TODAY, [7])[0], "route": "ID", "injections": 2},
    ]
    assert doors.series(TWO, (), doses=doses, mixed_routes=mixed)["valid_doses"] == valid
    doors.use(TWO, "prep-id-0-7", doses_required=2)
    if mixed:
        doors.rule(mixed_routes=True)
    doors.given(TODAY - timedelta(days=20))
    doors.given(TODAY - timedelta(days=13), route="ID", injections=2)
    assert doors.clear(TODAY)[0] is mixed


@pytest.mark.parametrize(("asks", "clear"), [(0, False), (2, True), (3, True), (4, False)])
def test_a_stopped_course_counts_as_the_site_says(asks: int, clear: bool, doors: Doors) -> None:
    """Three of five doses. No published table states it for field work: a setting, off by default."""
    if asks:
        doors.rule(stopped_course_doses=asks)
    doors.course(FIVE, *(TODAY - timedelta(days=ago) for ago in (30, 27, 23)))
    assert doors.clear(TODAY)[0] is clear
