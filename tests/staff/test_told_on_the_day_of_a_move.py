"""Told in the morning of one date, moved at noon: what they know is the wrong date, whenever it is written down."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from staff.ground.errors import Refused
from staff.models import Outing
from staff.selectors.campaign.community import owners_told_of
from staff.services.campaign.community import community_told_record
from staff.services.outing.outings import outing_move
from tests.factories import Team, make_outing

pytestmark = pytest.mark.django_db


def test_told_on_the_day_of_a_move_counts_only_when_it_is_said_which_date_they_know(
    team: Team, now: datetime
) -> None:
    """The record has a day and no hour: unless asked back, the morning's word passes for one of the new date."""
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=5)
    today = team.site.local_date(now)
    outing_move(
        actor=team.officer, outing=outing, date=outing.date + timedelta(days=1), now=now + timedelta(hours=1)
    )
    try:
        community_told_record(
            actor=team.officer,
            outing=outing,
            told_on=today,
            who="owners",
            how="loudspeaker at dawn",
            now=now + timedelta(hours=2),
        )
    except Refused:
        return
    assert not owners_told_of(Outing.objects.get(pk=outing.pk), today).is_told
