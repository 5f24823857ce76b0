"""From when somebody is clear: by the record as it is, else the earliest date that can be reached."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from staff.rules.record.clearance import evaluate_clearance
from staff.rules.record.facts import ClearanceRules, PersonFacts
from staff.rules.record.outlook import Way, earliest_clear
from staff.rules.regimen.values import Regimen


def first_clear(
    *,
    facts: PersonFacts,
    rules: ClearanceRules,
    pre_exposure: Sequence[Regimen],
    post_exposure: Sequence[Regimen],
    today: date,
    on: date,
) -> Way:
    """The first clear date from `on`: by the record as it is, else the earliest one that can be reached.

    `on` may lie before `today`; a date between the two is named only if the record as it is gives it.
    Done exactly as it advises, the person is clear on that date and not the day before
    (tests/staff/rules/test_outlook_truth.py).
    """
    judged = evaluate_clearance(
        facts=facts, rules=rules, pre_exposure=pre_exposure, post_exposure=post_exposure
    )
    by_record = judged.clear_from(on)
    if by_record is not None and by_record <= max(on, today):
        return Way(by_record, ())
    way = earliest_clear(
        facts=facts,
        rules=rules,
        pre_exposure=pre_exposure,
        post_exposure=post_exposure,
        today=today,
        on=on,
    )
    sooner = by_record is not None and (way.clear_on is None or by_record < way.clear_on)
    return Way(by_record, ()) if sooner else way
