"""Opening hours against independent ways of counting: recurrence rules, a scan by the minute, another calendar."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import FR, MO, SA, WE, WEEKLY, rrule
from opening_hours import OpeningHours, State

from safety.places.hours import open_spans, read_hours
from safety.rules.clinic.opening import holiday_hours
from staff.rules.regimen.values import RuleError

ZONES = [
    "Africa/Nairobi",
    "Asia/Kathmandu",
    "America/Lima",
    "Europe/Paris",
    "Australia/Lord_Howe",
    "America/St_Johns",
]
# Each holds a change of clocks of one of the zones: 2026-03-29 and 2026-10-25 Paris, 2026-04-05 Lord Howe, 2026-03-08 St John's.
STARTS = [
    datetime(2026, 3, 1, tzinfo=UTC),
    datetime(2026, 3, 22, tzinfo=UTC),
    datetime(2026, 10, 18, tzinfo=UTC),
]


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("start", STARTS)
def test_weekly_hours_are_what_recurrence_rules_give(zone: str, start: datetime) -> None:
    local, end = ZoneInfo(zone), start + timedelta(days=16)
    spans = open_spans(
        "Mo,We,Fr 08:30-12:00,13:00-17:45; Sa 09:00-11:00", zone=local, holidays=[], start=start, end=end
    )
    expected = []
    for days, opens, closes in (
        ((MO, WE, FR), (8, 30), (12, 0)),
        ((MO, WE, FR), (13, 0), (17, 45)),
        ((SA,), (9, 0), (11, 0)),
    ):
        first = datetime(start.year, start.month, start.day) - timedelta(days=2)
        for day in rrule(WEEKLY, byweekday=days, dtstart=first, count=40):
            a, b = (
                day.replace(hour=hour, minute=minute, tzinfo=local).astimezone(UTC)
                for hour, minute in (opens, closes)
            )
            if a < end and b > start:
                expected.append((max(a, start), min(b, end)))
    assert spans is not None
    assert [(span.opens_at, span.closes_at) for span in spans] == sorted(expected)


@pytest.mark.parametrize("zone", ["Europe/Paris", "Australia/Lord_Howe"])
@pytest.mark.parametrize("day", [date(2026, 3, 29), date(2026, 10, 25), date(2026, 4, 5), date(2026, 10, 4)])
@pytest.mark.parametrize(("opens", "closes"), [("01:00", "02:30"), ("02:15", "05:00"), ("00:30", "23:30")])
def test_around_a_change_of_clocks_open_is_never_claimed_where_the_wall_clock_denies_it(
    zone: str, day: date, opens: str, closes: str
) -> None:
    local = ZoneInfo(zone)
    start = datetime(day.year, day.month, day.day, tzinfo=local).astimezone(UTC)
    end = start + timedelta(hours=26)
    spans = open_spans(f"Mo-Su {opens}-{closes}", zone=local, holidays=[], start=start, end=end)
    assert spans is not None
    said = {
        minute
        for minute in _minutes(start, end)
        if any(one.opens_at <= minute < one.closes_at for one in spans)
    }
    by_the_wall = {
        minute for minute in _minutes(start, end) if opens <= f"{minute.astimezone(local):%H:%M}" < closes
    }
    assert said <= by_the_wall
    # What is held back lies within the hour that is shown twice or not at all.
    assert len(by_the_wall - said) <= 60


def _minutes(start: datetime, end: datetime) -> list[datetime]:
    return [start + timedelta(minutes=number) for number in range(int((end - start).total_seconds() // 60))]


@pytest.mark.parametrize(
    "hours",
    [
        "Mo-Fr 08:00-17:00; PH off",
        "Mo-Fr 08:00-12:00,13:00-17:00; PH 09:00-10:00",
        "PH,Sa 09:00-10:00; We 10:00-11:00",
        "Mo-Fr,PH 08:00-12:00",
        "Mo-Su 20:00-02:00; PH off",
        "24/7; PH closed",
    ],
)
def test_the_sites_holidays_work_as_a_calendar_the_library_knows_itself(hours: str) -> None:
    # France keeps 25 December, 1 January, 1 May and 8 May, whatever the weekday (calendar of the library).
    french = [date(2026, 12, 25), date(2027, 1, 1), date(2027, 5, 1), date(2027, 5, 8)]
    own = OpeningHours(holiday_hours(hours, french), auto_country=False)
    theirs = OpeningHours(hours, country="FR", auto_country=False)
    for first, last in ((date(2026, 12, 20), date(2027, 1, 6)), (date(2027, 4, 28), date(2027, 5, 5))):
        window = [datetime(day.year, day.month, day.day) for day in (first, last)]
        assert [row[:2] for row in own.intervals(*window) if row[2] == State.OPEN] == [
            row[:2] for row in theirs.intervals(*window) if row[2] == State.OPEN
        ]


def test_a_closed_evening_is_not_followed_by_an_open_night() -> None:
    """By hand: shut on Tuesday 3 March and on Saturdays, so neither Wednesday nor Sunday begins open."""
    utc = ZoneInfo("UTC")
    spans = open_spans(
        "Mo-Su 20:00-02:00; Sa off; PH off",
        zone=utc,
        holidays=[date(2026, 3, 3)],
        start=datetime(2026, 3, 2, 12, tzinfo=UTC),
        end=datetime(2026, 3, 9, tzinfo=UTC),
    )
    assert spans is not None
    evenings = [(span.opens_at.day, span.opens_at.hour, span.closes_at.day) for span in spans]
    assert [(day, hour) for day, hour, _closes in evenings] == [(2, 20), (4, 20), (5, 20), (6, 20), (8, 20)]
    assert {span.closes_at.hour for span in spans} <= {0, 2}


def test_hours_silent_about_holidays_are_not_taken_to_hold_on_them() -> None:
    day = date(2026, 3, 3)
    assert holiday_hours("Mo-Fr 08:00-17:00", [day]) == "Mo-Fr 08:00-17:00; 2026 Mar 03 off"
    assert holiday_hours("24/7", [day]) == "24/7"
    assert holiday_hours("PH off", []) == "off"


@pytest.mark.parametrize(
    ("hours", "code"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("8-17", "syntax"),
        ("Monday to Friday", "syntax"),
        ("Mo-Fr 08:00-17:00; SH off", "school-holidays"),
        ("sunrise-sunset", "sun"),
        ("Mo-Fr 08:00+", "open-end"),
        ("PH", "holiday-form"),
        ("PH +1 day off", "holiday-form"),
        ("PH Mo-Fr 08:00-09:00", "holiday-form"),
        ("Mo-Fr 08:00-17:00 || PH 09:00-10:00", "holiday-form"),
        ("Mo-Su 20:00-02:00; PH 20:00-24:00", "over-midnight"),
        ("24/7; Mo 20:00-02:00", "over-midnight"),
        ("Mo-Fr 25:00-26:00", "syntax"),
    ],
)
def test_what_cant_be_reckoned_with_is_refused_and_counts_as_not_known(hours: str, code: str) -> None:
    with pytest.raises(RuleError) as refused:
        read_hours(hours)
    assert (refused.value.field, refused.value.code) == ("hours", code)
    week = {"start": STARTS[0], "end": STARTS[0] + timedelta(days=7)}
    assert open_spans(hours, zone=ZoneInfo("Africa/Nairobi"), holidays=[], **week) is None


def test_a_note_in_quotes_changes_nothing_whatever_stands_in_it() -> None:
    week = {"start": STARTS[0], "end": STARTS[0] + timedelta(days=7)}
    nairobi = ZoneInfo("Africa/Nairobi")
    plain = open_spans("Mo-Fr 08:00-17:00; PH off", zone=nairobi, holidays=[], **week)
    noted = open_spans('Mo-Fr 08:00-17:00 "ring first; SH, PH+"; PH off', zone=nairobi, holidays=[], **week)
    assert plain == noted and plain


def test_hours_that_say_unknown_are_never_open() -> None:
    week = {"start": STARTS[0], "end": STARTS[0] + timedelta(days=7)}
    assert open_spans("Mo-Fr unknown", zone=ZoneInfo("Africa/Nairobi"), holidays=[], **week) == []
