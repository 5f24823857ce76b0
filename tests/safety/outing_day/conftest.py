from __future__ import annotations

from datetime import datetime

import pytest

from tests.factories import Team
from tests.safety.outing_day.scenes import Day, make_day


@pytest.fixture
def day(team: Team, now: datetime) -> Day:
    """A whole crew on the morning it leaves."""
    return make_day(team, now)
