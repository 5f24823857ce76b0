"""Whose clocks show the hour of a notice. Offsets are of the tz database; dates of the site's calendar decide."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import product
from zoneinfo import ZoneInfo

import pytest

from safety.rules.notices.local_time import LATEST_AFTER_THE_SITE, clocks_of, due_at

DAY = date(2026, 3, 10)
KIRITIMATI, HONOLULU, KOLKATA = "Pacific/Kiritimati", "Pacific/Honolulu", "Asia/Kolkata"


def when(reader: str, site: str, hour: int = 7, day: date = DAY) -> datetime:
    zone = clocks_of(local_date=day, hour=hour, reader=reader, site=site)
    return due_at(local_date=day, hour=hour, zone=ZoneInfo(zone))


def test_a_reader_far_ahead_is_written_to_at_the_own_hour_before_the_site() -> None:
    """Kiritimati is 14 h ahead of UTC, Kolkata 5.5 h: 07:00 there is 17:00 UTC, 22:30 at the site the evening before."""
    assert when(KIRITIMATI, KOLKATA) == datetime(2026, 3, 9, 17, 0, tzinfo=UTC)


def test_a_reader_far_behind_is_written_to_at_the_sites_hour() -> None:
    """07:00 in Honolulu (10 h behind UTC) would be 22:30 at the site: the day would be all but over."""
    assert when(HONOLULU, KOLKATA) == datetime(2026, 3, 10, 1, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("reader", "clocks"),
    [("Asia/Dubai", "Asia/Dubai"), ("Africa/Nairobi", "Africa/Nairobi"), ("Africa/Cairo", "Asia/Kolkata")],
)
def test_three_hours_after_the_site_is_the_most_a_readers_clocks_may_cost(reader: str, clocks: str) -> None:
    """Dubai 1.5 h, Nairobi 2.5 h and Cairo 3.5 h behind Kolkata on that date."""
    assert clocks_of(local_date=DAY, hour=7, reader=reader, site=KOLKATA) == clocks


def test_a_late_hour_stays_on_the_sites_date() -> None:
    """22:00 in Dubai is 23:30 in Kolkata, 23:00 there is half past midnight of the next day."""
    assert clocks_of(local_date=DAY, hour=22, reader="Asia/Dubai", site=KOLKATA) == "Asia/Dubai"
    assert clocks_of(local_date=DAY, hour=23, reader="Asia/Dubai", site=KOLKATA) == KOLKATA


@pytest.mark.parametrize("reader", ["", KOLKATA, "Mars/Olympus", "../etc/passwd", "x" * 300, "\0"])
def test_an_empty_or_unknown_zone_is_the_sites(reader: str) -> None:
    assert clocks_of(local_date=DAY, hour=7, reader=reader, site=KOLKATA) == KOLKATA


def test_what_is_to_leave_at_once_waits_for_nobodys_morning() -> None:
    assert clocks_of(local_date=DAY, hour=0, reader=HONOLULU, site=KOLKATA) == KOLKATA


def test_no_reader_anywhere_is_told_of_today_after_the_day_is_over_at_the_site() -> None:
    zones = (
        KIRITIMATI,
        HONOLULU,
        KOLKATA,
        "Pacific/Apia",
        "Pacific/Pago_Pago",
        "America/Lima",
        "Europe/Paris",
    )
    # Days of changing clocks among them: Paris on 29 March and 25 October 2026; the date Apia left out in 2011.
    days = (DAY, date(2026, 3, 29), date(2026, 10, 25), date(2024, 2, 29), date(2011, 12, 29))
    for reader, site, hour, day in product(zones, zones, range(24), days):
        at, at_site = when(reader, site, hour, day), due_at(local_date=day, hour=hour, zone=ZoneInfo(site))
        assert at <= at_site + LATEST_AFTER_THE_SITE
        assert at <= at_site or at.astimezone(ZoneInfo(site)).date() <= day
        assert at >= at_site - timedelta(hours=26)
