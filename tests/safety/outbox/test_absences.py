"""While somebody is away a deputy is written to; nobody falls between the two."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from safety.errors import Conflict, Invalid, NotAllowed
from safety.models import Absence, Notice
from safety.outbox.claims import claim_next
from safety.outbox.states import LEASE, State
from safety.selectors.notices.absences import coming_absences, sites_without_deputy
from safety.selectors.notices.recipients import clinic_side, holders
from safety.services.notices.absences import absence_add, absence_end
from safety.services.notices.notices import notices_reconcile
from safety.services.notices.sending import send_one
from staff.models import AuditEntry, SiteRole, User
from tests.factories import Team, make_user
from tests.safety.outbox.samples import DAY, make_course, make_notice

pytestmark = pytest.mark.django_db
LIAISON, OFFICER = SiteRole.Role.LIAISON, SiteRole.Role.OFFICER


@pytest.fixture
def deputy(team: Team) -> User:
    return make_user("second", team.site, LIAISON)


def away(team: Team, now: datetime, deputy: User | None, **changes: Any) -> Absence:
    today = team.site.local_date(now)
    values: dict[str, Any] = {
        "actor": team.liaison,
        "user": team.liaison,
        "first_day": today,
        "last_day": today + DAY,
        "deputy": deputy,
        "now": now,
    }
    return absence_add(**(values | changes))


def told(team: Team, now: datetime, role: SiteRole.Role = LIAISON) -> set[str]:
    return {reader.email.split("@")[0] for reader in holders(team.site, role, now)}


def test_a_deputy_is_written_to_from_the_first_day_to_the_last_and_on_no_other(
    team: Team, now: datetime
) -> None:
    # The officer stands in, who is no liaison otherwise.
    first = team.site.local_date(now) + 10 * DAY
    away(team, now, team.officer, first_day=first, last_day=first + 2 * DAY)
    found = [told(team, now + days * DAY) for days in (9, 10, 11, 12, 13)]
    assert found == [{"liaison"}, {"officer"}, {"officer"}, {"officer"}, {"liaison"}]


def test_the_days_are_those_of_the_sites_calendar(team: Team, now: datetime) -> None:
    """Nairobi is three hours ahead of UTC (tz database): its day begins at 21:00 UTC the evening before."""
    away(team, now, team.officer, first_day=date(2026, 3, 10), last_day=date(2026, 3, 10))
    before, begun = datetime(2026, 3, 9, 20, 59, 59, tzinfo=UTC), datetime(2026, 3, 9, 21, 0, tzinfo=UTC)
    last, over = datetime(2026, 3, 10, 20, 59, 59, tzinfo=UTC), datetime(2026, 3, 10, 21, 0, tzinfo=UTC)
    assert [told(team, at) for at in (before, begun, last, over)] == [
        {"liaison"},
        {"officer"},
        {"officer"},
        {"liaison"},
    ]


def test_without_a_deputy_the_absent_person_and_the_whole_other_role_are_written_to(
    team: Team, now: datetime
) -> None:
    make_user("chief", team.site, OFFICER)
    away(team, now, None)
    assert told(team, now) == {"liaison", "officer", "chief"}


@pytest.mark.parametrize("lack", ["closed account", "no address", "no role any more", "away too"])
def test_a_deputy_who_cannot_be_written_to_leaves_nobody_out(
    team: Team, deputy: User, now: datetime, lack: str
) -> None:
    away(team, now, deputy)
    if lack == "closed account":
        User.objects.filter(pk=deputy.pk).update(is_active=False)
    elif lack == "no address":
        User.objects.filter(pk=deputy.pk).update(email="")
    elif lack == "no role any more":
        SiteRole.objects.filter(user=deputy).delete()
    else:
        away(team, now, None, actor=deputy, user=deputy)
    assert told(team, now) >= {"liaison", "officer"}
    (row,) = [row for row in coming_absences(team.officer, now) if row.user_id == team.liaison.pk]
    assert sites_without_deputy([row])[row.pk] == [team.site]


def test_two_who_stand_in_for_each_other_are_both_written_to(team: Team, deputy: User, now: datetime) -> None:
    away(team, now, deputy)
    away(team, now, team.liaison, actor=deputy, user=deputy)
    assert told(team, now) == {"liaison", "second", "officer"}


def test_a_deputy_who_is_a_liaison_anyway_is_written_to_once(team: Team, deputy: User, now: datetime) -> None:
    away(team, now, deputy)
    assert [reader.email for reader in clinic_side(team.site, now)] == ["second@example.org"]


def test_only_an_officer_stands_in_where_only_an_officer_can_read(team: Team, now: datetime) -> None:
    away(team, now, team.liaison, actor=team.officer, user=team.officer)
    assert told(team, now, OFFICER) == {"liaison"}
    readers = holders(team.site, OFFICER, now, deputies=(OFFICER,))
    assert "officer@example.org" in {reader.email for reader in readers}


def waiting(team: Team) -> set[str]:
    rows = Notice.objects.filter(state=State.WAITING, audience="liaison", course__isnull=False)
    return {row.email.split("@")[0] for row in rows}


def test_notices_that_wait_follow_an_absence_and_come_back_when_it_is_ended(
    team: Team, deputy: User, now: datetime
) -> None:
    make_course(team, now)
    SiteRole.objects.filter(user=deputy).update(role=OFFICER)
    notices_reconcile(now=now)
    assert waiting(team) == {"liaison"}
    made = away(team, now, deputy)
    notices_reconcile(now=now)
    assert waiting(team) == {"second"}
    absence_end(actor=team.liaison, absence=made, reason="back earlier", now=now)
    notices_reconcile(now=now)
    assert waiting(team) == {"liaison"}


def test_notices_follow_when_the_days_begin_and_when_they_are_over(
    team: Team, deputy: User, now: datetime
) -> None:
    make_course(team, now)
    SiteRole.objects.filter(user=deputy).update(role=OFFICER)
    tomorrow = team.site.local_date(now) + DAY
    away(team, now, deputy, first_day=tomorrow, last_day=tomorrow)
    found = []
    for days in range(3):
        notices_reconcile(now=now + days * DAY)
        found.append(waiting(team))
    assert found == [{"liaison"}, {"second"}, {"liaison"}]


def test_a_notice_claimed_before_the_absence_is_withdrawn_and_the_deputy_gets_it(
    team: Team, deputy: User, now: datetime
) -> None:
    make_course(team, now)
    SiteRole.objects.filter(user=deputy).update(role=OFFICER)
    Notice.objects.exclude(audience="liaison").delete()
    claimed = claim_next(now)
    assert claimed is not None and claimed.user == team.liaison
    away(team, now, deputy)
    notices_reconcile(now=now)
    claimed.refresh_from_db()
    assert claimed.state == State.CLAIMED
    assert not send_one(claimed, clock=lambda: now)
    claimed.refresh_from_db()
    assert claimed.state == State.WITHDRAWN
    twin = Notice.objects.get(user=deputy, step=claimed.step, kind=claimed.kind, audience="liaison")
    assert twin.state == State.WAITING


def test_a_worker_that_dies_with_the_notice_leaves_it_to_the_deputy_all_the_same(
    team: Team, deputy: User, now: datetime
) -> None:
    make_course(team, now)
    SiteRole.objects.filter(user=deputy).update(role=OFFICER)
    Notice.objects.exclude(audience="liaison").delete()
    assert claim_next(now) is not None
    away(team, now, deputy)
    taken = claim_next(now + LEASE)
    assert taken is not None and not send_one(taken, clock=lambda: now + LEASE)
    notices_reconcile(now=now + LEASE)
    assert "second" in waiting(team)


def test_an_absence_is_entered_by_the_person_or_an_officer_of_the_site_alone(
    team: Team, now: datetime
) -> None:
    away(team, now, None, actor=team.officer)
    assert AuditEntry.objects.filter(action="absence.added", target="liaison", actor=team.officer).exists()
    for actor in (team.stranger, team.lead, team.member):
        with pytest.raises(NotAllowed):
            away(team, now, None, actor=actor, first_day=date(2026, 5, 1), last_day=date(2026, 5, 1))
    with pytest.raises(NotAllowed):
        away(team, now, None, actor=team.liaison, user=team.officer)


@pytest.mark.parametrize(
    ("first", "last", "field"), [(2, 1, "last_day"), (-9, -2, "last_day"), (0, 367, "last_day")]
)
def test_days_that_cannot_be_meant_are_refused_with_the_field(
    team: Team, now: datetime, first: int, last: int, field: str
) -> None:
    today = team.site.local_date(now)
    with pytest.raises(Invalid) as refused:
        away(team, now, None, first_day=today + first * DAY, last_day=today + last * DAY)
    assert list(refused.value.fields) == [field]


def test_a_deputy_is_somebody_else_of_the_same_site(team: Team, now: datetime) -> None:
    for deputy in (team.liaison, team.stranger, team.lead):
        with pytest.raises(Invalid) as refused:
            away(team, now, deputy)
        assert list(refused.value.fields) == ["deputy"]


def test_two_absences_never_cover_one_day_and_an_ended_one_frees_its_days(team: Team, now: datetime) -> None:
    first = away(team, now, None)
    with pytest.raises(Conflict):
        away(team, now, team.officer, first_day=first.last_day, last_day=first.last_day + DAY)
    away(team, now, None, first_day=first.last_day + DAY, last_day=first.last_day + DAY)
    absence_end(actor=team.officer, absence=first, reason="entered twice", now=now)
    with pytest.raises(Conflict):
        absence_end(actor=team.officer, absence=first, reason="again", now=now)
    away(team, now, team.officer)


def test_the_page_warns_where_no_deputy_can_be_written_to(
    team: Team, now: datetime, monkeypatch: Any
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)
    client = Client()
    client.force_login(team.liaison)
    today = team.site.local_date(now)
    said = {"user": team.liaison.pk, "first_day": today.isoformat(), "last_day": today.isoformat()}
    page = client.post("/absences/add/", said, follow=True).content.decode()
    assert "no deputy can be written to" in page
    made = Absence.objects.get()
    assert "End it" in client.get(f"/absences/{made.pk}/end/").content.decode()
    assert client.post(f"/absences/{made.pk}/end/", {"reason": "back"}).status_code == 302
    client.post("/absences/add/", {**said, "deputy": team.officer.pk})
    assert "no deputy can be written to" not in client.get("/absences/").content.decode()


def test_readers_cost_the_same_number_of_queries_however_many_are_away(
    team: Team, now: datetime, django_assert_num_queries: Any
) -> None:
    for number in range(5):
        one = make_user(f"liaison{number}", team.site, LIAISON)
        away(team, now, team.officer, actor=one, user=one)
    with django_assert_num_queries(5):
        assert told(team, now) == {"liaison", "officer"}


def test_a_notice_without_a_plan_keeps_its_reader(team: Team, now: datetime) -> None:
    """What was written to somebody by name, before the absence, isn't rewritten: the roster's change is such a one."""
    notice = make_notice(team.site, now - timedelta(minutes=1), now, user=team.officer)
    away(team, now, team.liaison, actor=team.officer, user=team.officer)
    notices_reconcile(now=now)
    notice.refresh_from_db()
    assert notice.state == State.WAITING
