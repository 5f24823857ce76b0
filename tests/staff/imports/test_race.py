"""Two officers confirm the same list at the same moment."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from threading import Barrier

import pytest
from django.db import connection

from staff.ground.errors import Conflict
from staff.models import AuditEntry, Dose, Person
from tests.factories import make_team
from tests.staff.imports.lists import bring_in, lines

PEOPLE = 40


@pytest.mark.usefixtures("real_transactions")
def test_one_list_sent_by_two_at_once_comes_in_once(now: datetime) -> None:
    team = make_team(now)
    rows = (f"{number},P{number},2026-01-05,2026-01-12" for number in range(100, 100 + PEOPLE))
    content = lines("Number,Name,Dose 1,Dose 2", *rows)
    together = Barrier(2)

    def officer() -> int:
        try:
            together.wait(timeout=30)
            return bring_in(team.officer, team.site, now, content)["people_added"]
        except Conflict as refused:
            assert refused.code == "import-changed"
            return 0
        finally:
            connection.close()

    added = _both(officer)
    assert sorted(added) == [0, PEOPLE]
    assert Person.objects.filter(number__gte="100", name__startswith="P").count() == PEOPLE
    assert Dose.objects.count() == 2 * PEOPLE
    assert AuditEntry.objects.filter(action="import.applied").count() == 1


def _both(work: Callable[[], int]) -> list[int]:
    with ThreadPoolExecutor(2) as pool:
        return [future.result(timeout=120) for future in [pool.submit(work), pool.submit(work)]]
