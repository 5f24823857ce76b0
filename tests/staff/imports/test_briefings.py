"""Safety briefings in a staff list: read from their column, kept once a day, and the last thing that clears people."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from staff.models import AuditEntry, Person, Site, SiteRules
from staff.rules.importing.columns import Field, guess_field
from staff.rules.importing.dates import DateFormat
from staff.rules.record.reasons import ReasonCode
from staff.selectors.record.readiness import readiness, readiness_of
from staff.services.importing.plan import fingerprint
from staff.services.importing.words import count_words, finding_words, place_words
from tests.factories import Team
from tests.staff.imports.lists import FIXTURES, bring_in, check, choose, codes, everything, lines

pytestmark = pytest.mark.django_db

HEADER = "Number,Name,Route,Dose 1,Dose 2,Dose 3,Safety briefing"
DOSES = "IM,2026-01-05,2026-01-12,2026-01-26"
TODAY = date(2026, 3, 2)  # the site's date at `now`


def asking(site: Site, months: int | None = 12) -> Site:
    """`site` with a rule that asks for a briefing."""
    SiteRules.objects.filter(site=site).update(briefing_months=months)
    return Site.objects.select_related("rules").get(pk=site.pk)


def row(number: int, briefing: str) -> str:
    return f"{number},Person {number},{DOSES},{briefing}"


@pytest.mark.parametrize(
    "header", ["Safety briefing", "BRIEFING", "Briefing date", "Date of safety briefing", "briefed  on"]
)
def test_the_column_is_known_by_its_header(header: str) -> None:
    assert guess_field(header) is Field.BRIEFING


def test_where_a_briefing_is_asked_for_the_list_clears_who_has_one_and_nobody_else(
    team: Team, now: datetime
) -> None:
    site = asking(team.site)
    counts = bring_in(team.officer, site, now, lines(HEADER, row(20, "2026-02-02"), row(21, "")))
    assert (counts["briefings_added"], counts["doses_added"]) == (1, 6)
    briefed, unbriefed = (Person.objects.get(number=number) for number in ("20", "21"))
    assert readiness_of(briefed, TODAY).clear
    ready = readiness_of(unbriefed, TODAY)
    assert (ready.clear, ready.codes) == (False, [ReasonCode.BRIEFING_MISSING])


@pytest.mark.parametrize(
    ("held_on", "clear"),
    [("2025-03-01", False), ("2025-03-02", True), ("2025-03-03", True)],
)
def test_a_briefing_in_the_list_clears_through_its_anniversary(
    team: Team, now: datetime, held_on: str, clear: bool
) -> None:
    """Twelve months asked for, and today is 2 March 2026."""
    bring_in(team.officer, asking(team.site), now, lines(HEADER, row(20, held_on)))
    assert readiness_of(Person.objects.get(number="20"), TODAY).clear is clear


def test_a_briefing_of_a_leap_day_is_good_through_the_last_of_february(team: Team, now: datetime) -> None:
    bring_in(team.officer, asking(team.site, 24), now, lines(HEADER, row(20, "2024-02-29")))
    person = Person.objects.get(number="20")
    last = date(2026, 2, 28)
    assert readiness_of(person, last).clear
    assert not readiness_of(person, last + timedelta(days=1)).clear


def test_the_same_list_again_adds_no_second_briefing(team: Team, now: datetime) -> None:
    content = lines(HEADER, row(20, "2026-02-02"))
    bring_in(team.officer, team.site, now, content)
    before = everything()
    counts = bring_in(team.officer, team.site, now, content)
    assert (counts["briefings_added"], counts["briefings_unchanged"]) == (0, 1)
    assert counts["people_unchanged"] == 1
    assert everything() == before


def test_a_later_list_adds_the_new_briefing_and_keeps_the_old(team: Team, now: datetime) -> None:
    bring_in(team.officer, asking(team.site), now, lines(HEADER, row(20, "2025-01-10")))
    person = Person.objects.get(number="20")
    assert not readiness_of(person, TODAY).clear
    counts = bring_in(team.officer, team.site, now, lines(HEADER, row(20, "2026-02-02")))
    assert (counts["people_changed"], counts["briefings_added"], counts["doses_added"]) == (1, 1, 0)
    assert [each.held_on for each in person.briefings.all()] == [date(2025, 1, 10), date(2026, 2, 2)]
    assert readiness_of(person, TODAY).clear
    entry = AuditEntry.objects.filter(action="briefings.imported", person=person).latest("pk")
    assert entry.detail["held_on"] == ["2026-02-02"]


@pytest.mark.parametrize(
    ("cell", "problem", "words"),
    [
        ("2026-03-03", "briefing-future", "once it is held"),
        ("2026-02-29", "date-impossible", "no day of the calendar"),
        ("1969-12-31", "date-too-old", "check the year"),
        ("03/02/2026", "date-format-needed", "Choose under Dates"),
        ("03/02/26", "date-short-year", "four digits"),
        ("yes", "date-text", "2026-04-03"),
        ("46055", "date-number", "bare number"),
    ],
)
def test_a_date_that_cant_be_names_row_column_and_remedy_and_nothing_is_written(
    team: Team, now: datetime, cell: str, problem: str, words: str
) -> None:
    plan = check(team.site, now, lines(HEADER, row(20, "2026-03-02"), row(21, cell)))
    assert codes(plan.problems) == [(problem, 3, 6)]
    assert place_words(plan.problems[0], HEADER.split(",")) == ("3", "G Safety briefing")
    assert words in finding_words(plan.problems[0])


def test_a_briefing_is_no_dose_of_the_row(team: Team, now: datetime) -> None:
    """It stands earlier than the doses and beside blank ones, and neither order nor gaps are noted."""
    content = lines(
        "Number,Name,Safety briefing,Dose 1,Dose 2", "20,Ba,2020-01-01,2026-01-05,", "21,Lo,2026-01-05,,"
    )
    plan = check(team.site, now, content)
    assert not plan.findings
    assert (plan.counts()["doses_added"], plan.counts()["briefings_added"]) == (1, 2)
    same_day = check(team.site, now, lines(HEADER, row(20, "2026-01-12")))
    assert not same_day.findings


def test_in_a_list_of_doses_the_briefing_may_stand_in_each_row(team: Team, now: datetime) -> None:
    content = lines(
        "Number,Name,Dose date,Briefing", "20,Ba,2026-01-05,2026-02-02", "20,,2026-01-12,2026-02-02", "20,,,"
    )
    plan = check(team.site, now, content)
    assert not plan.problems
    assert (plan.counts()["doses_added"], plan.counts()["briefings_added"]) == (2, 1)


def test_a_list_without_the_column_is_noted_only_where_briefings_are_asked_for(
    team: Team, now: datetime
) -> None:
    content = lines("Number,Name,Dose 1", "20,Ba,2026-01-05")
    assert not check(team.site, now, content).findings
    plan = check(asking(team.site, 0), now, content)
    assert codes(plan.notes) == [("no-briefing-column", None, None)]
    assert "nobody new is clear" in finding_words(plan.notes[0])


def test_what_was_seen_covers_the_briefings(team: Team, now: datetime) -> None:
    one, other = (lines(HEADER, row(20, day)) for day in ("2026-02-02", "2026-02-03"))
    assert fingerprint(choose(one), check(team.site, now, one)) != fingerprint(
        choose(other), check(team.site, now, other)
    )


def test_the_result_of_a_list_from_before_briefings_were_read_can_still_be_shown() -> None:
    kept = {
        "people_added": 1, "people_changed": 0, "people_unchanged": 0, "doses_added": 3, "doses_unchanged": 0,
    }  # fmt: skip
    assert [count.figure for count in count_words(kept)] == [1, 0, 0, 3, 0, 0, 0]


def test_the_sample_clears_people_where_briefings_are_asked_for_and_none_without_a_valid_one(
    team: Team, now: datetime
) -> None:
    """24 months, as at the demo's second site; on 25 November 2026 a briefing of 2022 has run out."""
    later, on = now.replace(month=11, day=25), date(2026, 11, 25)
    content = (FIXTURES / "staff_sample.csv").read_bytes()
    counts = bring_in(team.officer, asking(team.site, 24), later, content, DateFormat.DAY_FIRST)
    assert (counts["people_added"], counts["doses_added"], counts["briefings_added"]) == (200, 550, 180)
    board = readiness(Person.objects.filter(site=team.site, number__startswith="HS-"), on, [team.site])
    clear = [row.person for row in board if row.clear]
    assert len(clear) > 40
    for person in clear:
        assert max(each.held_on for each in person.briefings.all()) >= date(2024, 11, 25)
    blocked = [row for row in board if row.codes == [ReasonCode.BRIEFING_MISSING]]
    lapsed = [row for row in board if row.codes == [ReasonCode.BRIEFING_LAPSED]]
    assert blocked and lapsed
