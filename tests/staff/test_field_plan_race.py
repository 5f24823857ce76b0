"""Two officers plan the same campaign's outings at the same moment."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from threading import Barrier

import pytest
from django.db import connection

from staff.ground.errors import Conflict
from staff.models import AuditEntry, Outing
from staff.services.campaign.field_plan import outings_generate
from tests.factories import make_team
from tests.staff.field_scenes import WORKDAYS, area_of, campaign_of, shown

pytestmark = pytest.mark.usefixtures("real_transactions")


def test_planned_by_two_at_once_every_outing_is_made_once(now: datetime) -> None:
    team = make_team(now)
    campaign = campaign_of(team, now)
    for number in range(3):
        area_of(team, campaign, now, name=f"Lane {number}")
    seen, together = shown(campaign, now).fingerprint, Barrier(2)

    def officer() -> int | str:
        try:
            together.wait(timeout=30)
            asked = {"weekdays": WORKDAYS, "seen": seen, "now": now}
            return len(outings_generate(actor=team.officer, campaign=campaign, **asked))
        except Conflict as refused:
            return refused.code
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        answers = [future.result(timeout=120) for future in [pool.submit(officer) for _ in range(2)]]
    assert sorted(answers, key=str) == [9, "proposal-changed"]
    assert Outing.objects.count() == 9
    assert AuditEntry.objects.filter(action="outing.planned").count() == 9
