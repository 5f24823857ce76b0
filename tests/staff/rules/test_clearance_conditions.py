"""Briefings, holds and active dates beside a complete series."""

from datetime import date

import pytest

from staff.rules.record.clearance import (
    BriefingFact,
    Clearance,
    ClearanceRules,
    HoldFact,
    Params,
    PersonFacts,
    Reason,
    ReasonCode,
    evaluate_clearance,
)
from staff.rules.regimen.values import Interval
from tests.staff.rules.samples import doses, on, regimen

DOSES = tuple(doses(0, 7, 21))


def judge(facts: PersonFacts, rules: ClearanceRules | None = None) -> Clearance:
    return evaluate_clearance(
        facts=facts,
        rules=rules or ClearanceRules(),
        pre_exposure=[regimen("prep-im-0-7-21")],
        post_exposure=[],
    )


def briefed(*days: date, months: int | None) -> Clearance:
    facts = PersonFacts(doses=DOSES, briefings=tuple(BriefingFact(day) for day in days))
    return judge(facts, ClearanceRules(briefing_months=months))


def held(*holds: HoldFact) -> Clearance:
    return judge(PersonFacts(doses=DOSES, holds=holds))


def test_a_briefing_nobody_asks_for_is_not_missed() -> None:
    assert briefed(months=None).covers(on(21))


@pytest.mark.parametrize("months", [0, 12])
def test_a_missing_briefing_blocks_where_one_is_asked_for(months: int) -> None:
    clearance = briefed(months=months)
    assert clearance.intervals == ()
    assert clearance.reasons_on(on(21)) == (Reason(ReasonCode.BRIEFING_MISSING),)


def test_a_briefing_counts_from_its_day() -> None:
    clearance = briefed(on(30), months=0)
    assert clearance.intervals == (Interval(on(30), None),)
    assert clearance.reasons_on(on(29)) == (Reason(ReasonCode.BRIEFING_MISSING),)


def test_a_briefing_runs_out_the_day_after_its_anniversary() -> None:
    held_on = date(2026, 3, 31)
    clearance = briefed(date(2026, 3, 25), held_on, months=1)
    assert clearance.intervals == (Interval(date(2026, 3, 25), date(2026, 4, 30)),)
    assert clearance.reasons_on(date(2026, 5, 1)) == (
        Reason(ReasonCode.BRIEFING_LAPSED, Params(held_on=held_on, lapsed_on=date(2026, 5, 1))),
    )


def test_a_briefing_blocks_even_where_other_lapses_only_advise() -> None:
    facts = PersonFacts(doses=DOSES)
    assert judge(facts, ClearanceRules(briefing_months=0, lapse_blocks=False)).intervals == ()


def test_a_hold_takes_away_its_first_and_last_day_and_no_other() -> None:
    clearance = held(HoldFact(on(30), on(32), "bite"))
    assert [clearance.covers(on(day)) for day in range(29, 34)] == [True, False, False, False, True]
    assert clearance.clear_from(on(30)) == on(33)
    assert clearance.reasons_on(on(32)) == (
        Reason(ReasonCode.HELD, Params(starts_on=on(30), ends_on=on(32), reason="bite")),
    )


def test_an_open_hold_has_no_end_to_wait_for() -> None:
    clearance = held(HoldFact(on(30), None, "bite"))
    assert clearance.clear_from(on(30)) is None
    (reason,) = clearance.reasons_on(date(2099, 1, 1))
    assert dict(reason.params) == {"starts_on": on(30), "reason": "bite"}


def test_every_hold_that_covers_the_day_is_named() -> None:
    clearance = held(
        HoldFact(on(30), None, "ill"), HoldFact(on(29), on(40), "bite"), HoldFact(on(41), None, "x")
    )
    assert [reason.params["reason"] for reason in clearance.reasons_on(on(40))] == ["bite", "ill"]


def test_a_person_is_clear_only_while_active_both_days_included() -> None:
    clearance = judge(PersonFacts(doses=DOSES, active_from=on(25), active_until=on(27)))
    assert clearance.intervals == (Interval(on(25), on(27)),)
    for day in (24, 28):
        assert clearance.reasons_on(on(day)) == (
            Reason(ReasonCode.NOT_ACTIVE, Params(active_from=on(25), active_until=on(27))),
        )


def test_active_dates_the_wrong_way_round_clear_nobody() -> None:
    clearance = judge(PersonFacts(doses=DOSES, active_from=on(27), active_until=on(25)))
    assert clearance.intervals == ()
    assert clearance.reasons_on(on(26))[0].code is ReasonCode.NOT_ACTIVE


def test_all_that_stands_in_the_way_is_told_at_once() -> None:
    facts = PersonFacts(doses=DOSES[:2], holds=(HoldFact(on(0), None, "bite"),), active_until=on(5))
    clearance = judge(facts, ClearanceRules(briefing_months=12))
    assert [reason.code for reason in clearance.reasons_on(on(30))] == [
        ReasonCode.SERIES_INCOMPLETE,
        ReasonCode.BRIEFING_MISSING,
        ReasonCode.HELD,
        ReasonCode.NOT_ACTIVE,
    ]


@pytest.mark.parametrize(
    "values",
    [{"doses_required": 0}, {"settling_days": -1}, {"recheck_months": -1}, {"briefing_months": -1}],
)
def test_a_site_cannot_ask_for_nothing_or_for_less(values: dict[str, int]) -> None:
    with pytest.raises(ValueError, match=r"1 or more|negative"):
        ClearanceRules(**values)  # type: ignore[arg-type]


def test_reasons_can_be_compared_and_put_in_sets() -> None:
    one, same = (Reason(ReasonCode.HELD, Params(starts_on=on(1), reason="bite")) for _ in range(2))
    other = Reason(ReasonCode.HELD, Params(starts_on=on(2), reason="bite"))
    assert {one, same, other} == {one, other}
    assert "reason='bite'" in repr(one)


def test_a_lapse_is_explained_by_the_briefing_before_it_and_not_by_the_next_one() -> None:
    clearance = briefed(date(2026, 3, 25), date(2026, 6, 1), months=1)
    assert clearance.reasons_on(date(2026, 5, 20)) == (
        Reason(
            ReasonCode.BRIEFING_LAPSED,
            Params(held_on=date(2026, 3, 25), lapsed_on=date(2026, 4, 26)),
        ),
    )
