"""Two who void the same entry at the same moment: one does, the other is told that it is voided already."""

from __future__ import annotations

from datetime import datetime

import pytest

from staff.models import AuditEntry
from staff.services.voiding import ALREADY_VOIDED, void
from tests.factories import make_team
from tests.safety.outing_day.test_races import together
from tests.safety.void_scenes import KINDS, Kind, make_scene, rule_of

pytestmark = pytest.mark.usefixtures("real_transactions")


@pytest.mark.parametrize("kind", KINDS, ids=str)
def test_of_two_at_once_exactly_one_voids(kind: Kind, now: datetime) -> None:
    scene = make_scene(make_team(now), now, kind)
    row, rule = kind.make(scene), rule_of(kind)

    def act(reason: str) -> None:
        mine = kind.model.everything.get(pk=row.pk)
        void(actor=scene.team.officer, row=mine, reason=reason, now=now, rule=rule)

    assert together(lambda: act("one"), lambda: act("another")) == [ALREADY_VOIDED, "kept"]
    entry = AuditEntry.objects.get(action=rule.action)
    assert kind.model.everything.get(pk=row.pk).void_reason == entry.detail["reason"]
