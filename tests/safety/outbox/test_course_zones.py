"""A course that goes on in another time zone: whose calendar says today, and whose hour rings, over the date line too."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from safety.errors import Invalid
from safety.models import Course, Notice
from safety.outbox.states import State
from safety.selectors.case.cases import doses_due, incidents_listed_for
from safety.selectors.case.needs import needs_of
from safety.selectors.course.follow_up import doses_to_come, needs_now
from safety.selectors.upkeep.verify import differences
from safety.services.course.course_changes import Elsewhere, course_move
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import plans_catch_up
from safety.services.notices.notices import notices_reconcile, still_true
from staff.models import Site
from tests.factories import Team
from tests.safety.clinic_scenes import begun

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
ZERO = date(2026, 3, 2)


def moved(team: Team, course: Course, zone: str, now: datetime) -> Course:
    to = Elsewhere(None, "Hospital there", "000 7", zone)
    course_move(actor=team.liaison, course=course, to=to, reason="went home", now=now)
    plans_catch_up(now=now)
    course.refresh_from_db()
    return course


def waiting(course: Course, audience: str) -> dict[tuple[int, str], Notice]:
    rows = Notice.objects.filter(course=course, state=State.WAITING, audience=audience)
    return {(row.step, row.kind): row for row in rows}


def of_site(team: Team, zone: str) -> None:
    Site.objects.filter(pk=team.site.pk).update(time_zone=zone)
    team.site.refresh_from_db()
    team.person.refresh_from_db()


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Honolulu", "Asia/Kolkata", "America/Lima"])
def test_the_member_is_reminded_at_seven_there_and_the_desk_at_seven_here(
    team: Team, now: datetime, zone: str
) -> None:
    course = moved(team, begun(team, now), zone, now)
    members, desk = waiting(course, "member"), waiting(course, "liaison")
    for rows, where in ((members, zone), (desk, "Africa/Nairobi")):
        local = rows[(3, "day-of")].due_at.astimezone(ZoneInfo(where))
        assert (local.date(), local.hour) == (ZERO + 7 * DAY, 7)
        assert rows[(3, "day-of")].zone == where
    assert [found for found in differences() if "notice" in found.row] == []


def test_moving_keeps_the_notices_and_changes_only_their_instant(team: Team, now: datetime) -> None:
    course = begun(team, now)
    before = {row.pk: row.key for row in waiting(course, "member").values()}
    moved(team, course, "Asia/Tokyo", now)
    after = {row.pk: row.key for row in waiting(course, "member").values()}
    # What was due at once here may be past there; whatever still waits is the same row.
    assert after.items() <= before.items() and len(after) >= len(before) - 1


def test_a_zone_of_the_same_hour_is_kept_too(team: Team, now: datetime) -> None:
    """Addis Ababa's clocks are Nairobi's (IANA time zone database): the instant stays, the zone is the reader's."""
    course = moved(team, begun(team, now), "Africa/Addis_Ababa", now)
    assert {row.zone for row in waiting(course, "member").values()} == {"Africa/Addis_Ababa"}
    assert [found for found in differences() if "notice" in found.row] == []


def test_seven_there_stays_seven_through_a_change_of_the_clocks_there(team: Team) -> None:
    """Lisbon went from UTC+0 to UTC+1 on 29 March 2026 (IANA time zone database; EU directive 2000/84/EC)."""
    at = datetime(2026, 3, 27, 9, tzinfo=UTC)
    rows = waiting(moved(team, begun(team, at), "Europe/Lisbon", at), "member")
    assert rows[(2, "day-before")].due_at == datetime(2026, 3, 29, 6, tzinfo=UTC)
    assert rows[(2, "day-of")].due_at == datetime(2026, 3, 30, 6, tzinfo=UTC)


def test_overdue_and_due_today_are_by_the_calendar_there(team: Team, now: datetime) -> None:
    """At 11:00 UTC on 2 March it is 3 March in Kiritimati (UTC+14) and 1 March, 23:00, in Pago Pago the hour before."""
    course = begun(team, now)
    at = datetime(2026, 3, 2, 11, tzinfo=UTC)
    assert not needs_now(team.liaison, at).overdue
    moved(team, course, "Pacific/Kiritimati", at)
    assert course.local_date(at) == date(2026, 3, 3)
    assert [dose.number for dose in needs_now(team.liaison, at).overdue] == [1]
    listed = incidents_listed_for(team.liaison).get(pk=course.incident_id)
    assert [step.late for step in needs_of(listed, at) if step.code == "dose"] == [True]
    assert doses_to_come(team.liaison, team.person, at)[0].overdue
    moved(team, course, "Pacific/Pago_Pago", at)
    early = datetime(2026, 3, 3, 10, tzinfo=UTC)
    assert course.local_date(early) == date(2026, 3, 2) and not needs_now(team.liaison, early).overdue
    assert doses_due(Site.objects.filter(pk=team.site.pk)).exists()


@pytest.mark.parametrize(
    ("site", "there"),
    [("Pacific/Honolulu", "Pacific/Kiritimati"), ("Pacific/Kiritimati", "Pacific/Honolulu")],
)
def test_over_the_date_line_every_day_brings_every_reader_a_notice_that_is_still_true(
    team: Team, now: datetime, site: str, there: str
) -> None:
    """A day apart: each is told by the own calendar, and no notice is withdrawn before its hour has come."""
    of_site(team, site)
    course = moved(team, begun(team, now), there, now)
    told: dict[str, set[date]] = {"member": set(), "liaison": set(), "officer": set()}
    for hours in range(0, 24 * 6, 3):
        moment = now + timedelta(hours=hours)
        notices_reconcile(now=moment)
        for row in Notice.objects.filter(course=course, state=State.WAITING, due_at__lte=moment, step=1):
            if still_true(row, moment):
                told[row.audience].add(row.send_on)
                Notice.objects.filter(pk=row.pk).update(state=State.SENT, settled_at=moment)
    first = course.starts_on
    chased = {first + days * DAY for days in (1, 2, 3, 4)}
    assert all(chased <= days for days in told.values()), told


def test_a_dose_of_a_day_the_site_has_not_reached_waits_for_it(team: Team) -> None:
    of_site(team, "Pacific/Honolulu")
    now = datetime(2026, 3, 3, 2, tzinfo=UTC)  # 2 March in Honolulu, 3 March in Kiritimati
    course = moved(team, begun(team, now), "Pacific/Kiritimati", now)
    with pytest.raises(Invalid, match="At the site it isn't 3 Mar 2026 yet"):
        course_dose_record(actor=team.liaison, course=course, given_on=date(2026, 3, 3), now=now)
    course_dose_record(actor=team.liaison, course=course, given_on=date(2026, 3, 3), now=now + DAY)
