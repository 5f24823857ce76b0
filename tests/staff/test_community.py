"""That owners and neighbours were told: what is recorded, what counts, what is taken back."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from staff.ground.errors import Conflict, Invalid
from staff.models import AuditEntry, CommunityNotice, Outing
from staff.selectors.campaign.community import CommunityState, community_state
from staff.services.campaign.community import (
    community_told_record,
    community_told_together,
    community_told_void,
)
from staff.services.outing.outings import outing_cancel, outing_move
from tests.factories import Team, make_outing

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def tell(team: Team, outing: Outing, now: datetime, **changed: Any) -> CommunityNotice:
    said = {"told_on": team.site.local_date(now), "who": "the elder", "how": "a visit", **changed}
    return community_told_record(actor=team.officer, outing=outing, now=now, **said)


def state(team: Team, outing: Outing, now: datetime) -> CommunityState:
    return community_state(Outing.objects.get(pk=outing.pk), team.site.local_date(now))


def test_told_two_days_before_is_in_time(team: Team, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=2)
    assert state(team, outing, now).code == "due-today"
    tell(team, outing, now)
    found = state(team, outing, now)
    assert (found.code, found.words) == ("in-time", "Told 2 days before.")
    assert AuditEntry.objects.filter(action="community.told").count() == 1


def test_told_one_day_before_is_recorded_and_said_to_be_late(team: Team, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=1)
    tell(team, outing, now)
    assert state(team, outing, now).words == "Told 1 day before. 2 are asked."


def test_a_site_that_asks_for_more_days_is_followed(team: Team, now: datetime) -> None:
    team.site.rules.community_days = 5
    team.site.rules.save()
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=4)
    tell(team, outing, now)
    assert state(team, outing, now).code == "late"


@pytest.mark.parametrize("days", [1, 30, -120])
def test_a_day_that_cant_be_is_refused(team: Team, now: datetime, days: int) -> None:
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=3)
    with pytest.raises(Invalid) as refused:
        tell(team, outing, now, told_on=team.site.local_date(now) + days * DAY)
    assert set(refused.value.fields) == {"told_on"}


def test_a_day_after_the_outing_is_refused_and_its_own_day_is_not(team: Team, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=0)
    later = now + 2 * DAY
    with pytest.raises(Invalid):
        tell(team, outing, later)
    tell(team, outing, later, told_on=outing.date)
    assert state(team, outing, later).words == "Told on the day itself. 2 are asked."


@pytest.mark.parametrize("field", ["who", "how"])
def test_who_and_how_are_asked_for(team: Team, now: datetime, field: str) -> None:
    outing, _crew = make_outing(team.site, team.officer, now)
    with pytest.raises(Invalid) as refused:
        tell(team, outing, now, **{field: " "})
    assert set(refused.value.fields) == {field}


def test_the_same_word_sent_twice_stands_once(team: Team, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now)
    assert tell(team, outing, now).pk == tell(team, outing, now + timedelta(minutes=1)).pk


def test_a_voided_word_counts_no_more_and_stays_readable(team: Team, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now)
    told = tell(team, outing, now)
    community_told_void(actor=team.officer, told=told, reason="another lane", now=now)
    found = state(team, outing, now)
    assert (found.code, [row.void_reason for row in found.other]) == ("not-yet", ["another lane"])
    with pytest.raises(Conflict):
        community_told_void(actor=team.officer, told=told, reason="again", now=now)


def test_who_was_told_before_a_move_knows_the_wrong_date(team: Team, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=4)
    tell(team, outing, now)
    moved_at = now + DAY
    outing_move(actor=team.officer, outing=outing, date=outing.date + 3 * DAY, now=moved_at)
    assert state(team, outing, moved_at).code == "not-yet"
    with pytest.raises(Invalid, match="was moved"):
        tell(team, outing, moved_at, told_on=team.site.local_date(now))
    tell(team, outing, moved_at + timedelta(hours=1), new_date=True)
    assert state(team, outing, moved_at).code == "in-time"


def test_moved_to_the_date_it_has_it_stays_told(team: Team, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=4)
    tell(team, outing, now)
    outing_move(actor=team.officer, outing=outing, date=outing.date, now=now + DAY)
    assert state(team, outing, now).code == "in-time"


def test_several_outings_are_told_of_together_or_none_is(team: Team, now: datetime) -> None:
    outings = [make_outing(team.site, team.officer, now, days_ahead=days)[0] for days in (3, 4)]
    said = {"told_on": team.site.local_date(now), "who": "the market", "how": "loudspeaker", "now": now}
    assert len(community_told_together(actor=team.officer, outings=outings, **said)) == 2
    gone, _crew = make_outing(team.site, team.officer, now, days_ahead=5)
    outing_cancel(actor=team.officer, outing=gone, reason="rain", now=now)
    with pytest.raises(Conflict):
        community_told_together(actor=team.officer, outings=[*outings, gone], **{**said, "who": "the school"})
    with pytest.raises(Invalid):
        community_told_together(actor=team.officer, outings=[], **said)
    assert CommunityNotice.objects.count() == 2
