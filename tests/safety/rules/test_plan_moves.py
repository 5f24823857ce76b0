"""What moved between two plans: each dose once, and nothing where nothing moved."""

from __future__ import annotations

from datetime import date

from safety.rules.course.plan_moves import Move, Planned, plan_moves

FIRST, SECOND = Planned(1, date(2026, 3, 2), None), Planned(2, date(2026, 3, 5), None)
GIVEN = Planned(1, date(2026, 3, 2), date(2026, 3, 2))


def test_the_same_plan_moves_nothing() -> None:
    assert plan_moves(before=[FIRST, SECOND], after=[FIRST, SECOND]) == ()


def test_doses_appear_vanish_and_become_given() -> None:
    assert plan_moves(before=[], after=[FIRST]) == (Move(1, None, FIRST),)
    assert plan_moves(before=[FIRST], after=[]) == (Move(1, FIRST, None),)
    assert plan_moves(before=[FIRST, SECOND], after=[GIVEN, SECOND]) == (Move(1, FIRST, GIVEN),)
