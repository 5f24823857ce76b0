"""Dates an outing may have, and what of the kit still counts after it was moved."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from staff.ground.errors import Conflict, Invalid
from staff.models import Outing
from staff.selectors.outing.kit import crew_ticks, kit_missing, outing_kit
from staff.services.outing.kit import kit_tick
from staff.services.outing.outings import outing_create, outing_move
from tests.factories import Team, make_outing

pytestmark = pytest.mark.django_db
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


@pytest.mark.parametrize("far", [date(9999, 12, 31), date(2400, 1, 1)])
def test_an_outing_is_neither_planned_nor_moved_years_ahead(team: Team, now: datetime, far: date) -> None:
    outing, _crew = make_outing(team.site, team.officer, now)
    with pytest.raises(Invalid) as moved:
        outing_move(actor=team.officer, outing=outing, date=far, now=now)
    with pytest.raises(Invalid) as planned:
        outing_create(
            actor=team.officer, site_id=team.site.pk, date=far, area="Mill", method="fixed-post", now=now
        )
    assert "check the year" in moved.value.fields["date"]
    assert "check the year" in planned.value.fields["date"]
    assert Outing.objects.get() == outing


def test_the_last_day_of_the_third_year_ahead_can_be_planned(team: Team, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now)
    last = date(outing.date.year + 3, 12, 31)
    outing_move(actor=team.officer, outing=outing, date=last, now=now)
    with pytest.raises(Invalid):
        outing_move(actor=team.officer, outing=outing, date=last + DAY, now=now)


def test_after_a_move_everything_is_to_be_ticked_anew(team: Team, now: datetime) -> None:
    outing, crew = make_outing(team.site, team.officer, now)
    said = {"actor": team.lead, "outing": outing, "crew": crew, "item": "soap", "there": True}
    kit_tick(**said, ticked_at=now, now=now)
    before = kit_missing(crew)
    outing_move(actor=team.officer, outing=outing, date=outing.date + DAY, now=now + HOUR)
    crew.outing.refresh_from_db()
    assert len(kit_missing(crew)) == len(before) + 1
    assert not crew_ticks(crew).exists()
    assert not any(row.tick for kit in outing_kit(outing) for row in kit.rows)
    kit_tick(**said, ticked_at=now + 2 * HOUR, now=now + 2 * HOUR)
    assert kit_missing(crew) == before


def test_a_tick_of_before_the_move_that_arrives_after_it_is_told_so(team: Team, now: datetime) -> None:
    """A phone without network sends it late; what was packed then was packed for the other day."""
    outing, crew = make_outing(team.site, team.officer, now)
    outing_move(actor=team.officer, outing=outing, date=outing.date + DAY, now=now + HOUR)
    with pytest.raises(Conflict, match="tick it again") as refused:
        kit_tick(
            actor=team.lead,
            outing=outing,
            crew=crew,
            item="soap",
            there=True,
            ticked_at=now,
            now=now + 2 * HOUR,
        )
    assert refused.value.code == "outing-moved"
