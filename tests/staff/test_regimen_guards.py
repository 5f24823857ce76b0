"""The regimen table by raw SQL and bulk writes: what the services refuse, the database refuses too."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from staff.guards.kept import APPEND_ONLY
from staff.guards.regimen import REGIMEN_APPROVAL, REGIMEN_KEPT, REGIMEN_MOVE
from staff.models import Regimen, RegimenApproval, RegimenMove, RegimenStep
from tests.factories import PRE_EXPOSURE, Team
from tests.staff.regimen_scenes import draft_of, second_officer, submitted_of


def sql(text: str, *values: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(text, values)


def refused(code: str, act: Callable[[], object]) -> None:
    with pytest.raises(DatabaseError, match=code), transaction.atomic():
        act()


LISTED = "(SELECT id FROM staff_regimen WHERE code = 'prep-im-0-7-21' AND version = 1)"
KEPT = {
    "name": f"UPDATE staff_regimen SET name = 'x' WHERE id = {LISTED}",
    "routes": f"UPDATE staff_regimen SET routes = '[\"ID\"]' WHERE id = {LISTED}",
    "source": f"UPDATE staff_regimen SET source = 'x' WHERE id = {LISTED}",
    "version": f"UPDATE staff_regimen SET version = 9 WHERE id = {LISTED}",
    "drafter": f"UPDATE staff_regimen SET drafted_by_id = (SELECT MIN(id) FROM staff_user) WHERE id = {LISTED}",
    "step changed": f"UPDATE staff_regimenstep SET smallest_gap = 0 WHERE regimen_id = {LISTED}",
    "step deleted": f"DELETE FROM staff_regimenstep WHERE regimen_id = {LISTED}",
    "step added": "INSERT INTO staff_regimenstep (regimen_id, number, day, latest_day, smallest_gap, injections,"
    f" later) VALUES ({LISTED}, 9, 90, 90, 1, 1, FALSE)",
}


@pytest.mark.parametrize("what", KEPT)
def test_a_listed_version_is_not_changed_by_sql(what: str, team: Team) -> None:
    refused(REGIMEN_KEPT, lambda: sql(KEPT[what]))


def test_a_submitted_version_is_not_changed_either(team: Team, now: datetime) -> None:
    row = submitted_of(team, now)
    refused(REGIMEN_KEPT, lambda: Regimen.objects.filter(pk=row.pk).update(name="x"))
    refused(REGIMEN_KEPT, lambda: row.steps.update(day=99, latest_day=99))


def test_a_step_is_not_moved_out_of_a_listed_version(team: Team, now: datetime) -> None:
    draft = draft_of(team, now)
    row = RegimenStep.objects.filter(regimen__code=PRE_EXPOSURE, regimen__version=1).latest("number")
    refused(REGIMEN_KEPT, lambda: RegimenStep.objects.filter(pk=row.pk).update(regimen=draft, number=9))


def test_a_draft_may_change_but_not_say_that_somebody_else_drafted_it(team: Team, now: datetime) -> None:
    draft = draft_of(team, now)
    Regimen.objects.filter(pk=draft.pk).update(name="changed")
    draft.steps.filter(number=3).delete()
    refused(REGIMEN_KEPT, lambda: Regimen.objects.filter(pk=draft.pk).update(drafted_by=None))
    refused(REGIMEN_KEPT, lambda: Regimen.objects.filter(pk=draft.pk).update(drafted_by=team.stranger))


MOVES = [
    (old, new)
    for old in ("draft", "submitted", "listed", "retired")
    for new in ("draft", "submitted", "listed", "retired")
    if old != new
]
# The way a version goes, written out: draft, submitted, listed, retired; back from submitted; a draft given up.
LEGAL = {
    ("draft", "submitted"), ("draft", "retired"), ("submitted", "draft"), ("submitted", "listed"),
    ("listed", "retired"),
}  # fmt: skip
ROADS = {
    "draft": (),
    "submitted": ("submitted",),
    "listed": ("submitted", "listed"),
    "retired": ("retired",),
}


@pytest.mark.parametrize(("old", "new"), MOVES)
def test_the_database_lets_a_version_move_only_the_legal_way(
    team: Team, now: datetime, old: str, new: str
) -> None:
    row = Regimen.objects.filter(pk=draft_of(team, now).pk)
    for state in ROADS[old]:
        row.update(state=state)
    if (old, new) in LEGAL:
        row.update(state=new)
        assert row.get().state == new
    else:
        refused(REGIMEN_MOVE, lambda: row.update(state=new))


def test_a_version_is_born_a_draft_and_stays_once_listed(team: Team) -> None:
    row = Regimen.objects.get(code=PRE_EXPOSURE, version=1)
    row.pk, row.version = None, 7
    refused(REGIMEN_KEPT, lambda: Regimen.objects.bulk_create([row]))
    refused(f"{REGIMEN_KEPT}|FOREIGN KEY", lambda: sql(f"DELETE FROM staff_regimen WHERE id = {LISTED}"))


def test_a_version_that_a_site_uses_is_not_retired_by_sql(team: Team) -> None:
    refused(REGIMEN_MOVE, lambda: sql(f"UPDATE staff_regimen SET state = 'retired' WHERE id = {LISTED}"))


def _approval(team: Team, regimen: Regimen, by: Any) -> None:
    RegimenApproval.objects.create(
        regimen=regimen,
        site=team.site,
        authority="office",
        approved_on=date(2026, 1, 1),
        document="letter",
        approved_by=by,
    )


def test_the_database_wants_two_people_and_a_listed_version(team: Team, now: datetime) -> None:
    row, second = submitted_of(team, now), second_officer(team)
    refused(REGIMEN_APPROVAL, lambda: _approval(team, row, second))
    Regimen.objects.filter(pk=row.pk).update(state="listed")
    refused(REGIMEN_APPROVAL, lambda: _approval(team, row, team.officer))
    _approval(team, row, second)


def test_an_approval_is_kept_and_its_withdrawal_stands(team: Team, now: datetime) -> None:
    rows = RegimenApproval.objects.filter(site=team.site, regimen__code=PRE_EXPOSURE)
    refused(APPEND_ONLY, lambda: rows.update(document="another"))
    refused(APPEND_ONLY, rows.delete)
    rows.update(withdrawn_at=now, withdrawn_by=team.officer, withdraw_reason="x")
    refused(
        f"{REGIMEN_APPROVAL}|{REGIMEN_KEPT}",
        lambda: rows.update(withdrawn_at=None, withdrawn_by=None, withdraw_reason=""),
    )


def test_the_history_of_a_version_is_never_rewritten(team: Team) -> None:
    refused(APPEND_ONLY, lambda: RegimenMove.objects.update(why="other"))
    refused(APPEND_ONLY, lambda: sql("DELETE FROM staff_regimenmove"))


@pytest.mark.skipif(connection.vendor != "sqlite", reason="only SQLite has INSERT OR REPLACE")
@pytest.mark.parametrize("table", ["staff_regimen", "staff_regimenstep", "staff_regimenapproval"])
def test_replace_rewrites_no_row_of_the_table(team: Team, table: str) -> None:
    refused("regimen-|append-only", lambda: sql(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}"))
