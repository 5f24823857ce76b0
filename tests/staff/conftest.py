from __future__ import annotations

from datetime import datetime

import pytest

from tests.factories import Team
from tests.staff.roster_case import Roster, make_roster


@pytest.fixture
def roster(team: Team, now: datetime) -> Roster:
    """A cleared person on an outing in three days, and one with a dose too few beside it."""
    return make_roster(team, now)
