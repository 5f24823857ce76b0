"""Every code a page may meet has words."""

from __future__ import annotations

import pytest

from safety import registry
from safety.models import Notice
from safety.rules.case.category import Category, CategoryReason, Suggestion
from safety.rules.case.washing import Answer, WashState, WashSummary
from safety.rules.notices.follow_up import DEFAULT_PLAN, Audience
from safety.words import (
    AUDIENCES,
    category_reasons,
    category_word,
    minutes_seconds,
    notice_state,
    wash_state,
    wash_words,
)


def test_every_reason_of_a_category_has_a_sentence() -> None:
    sentences = category_reasons(Suggestion(None, tuple(CategoryReason)))
    assert len(set(sentences)) == len(CategoryReason) and all(words.endswith(".") for words in sentences)


def test_categories_carry_the_names_of_the_exposure_table() -> None:
    # WHO 2018, exposure categories I, II and III (secondary copy).
    words = [category_word(Suggestion(category, ())) for category in Category]
    assert words == ["Category I", "Category II", "Category III"]


@pytest.mark.parametrize("state", WashState)
def test_every_state_of_washing_has_a_word_a_mark_and_a_sentence(state: WashState) -> None:
    washing = WashSummary(state, 61, 839, Answer.YES)
    assert wash_state(washing).word and wash_state(washing).mark
    assert wash_words(washing, 15).endswith((".", ": ask."))


def test_states_of_washing_differ_by_word_and_by_mark() -> None:
    shown = [wash_state(WashSummary(state, 0, 0, Answer.UNKNOWN)) for state in WashState]
    assert len({state.word for state in shown}) == len({state.mark for state in shown}) == len(WashState)


@pytest.mark.parametrize(
    ("seconds", "clock"), [(0, "0:00"), (59, "0:59"), (60, "1:00"), (899, "14:59"), (900, "15:00")]
)
def test_seconds_read_as_on_a_clock(seconds: int, clock: str) -> None:
    assert minutes_seconds(seconds) == clock


def test_every_kind_of_notice_and_every_reader_has_words() -> None:
    assert {row.stage for row in DEFAULT_PLAN} <= {kind.name for kind in registry.kinds()}
    assert set(Audience) <= set(AUDIENCES)


@pytest.mark.parametrize("state", Notice.State.values)
def test_every_state_of_a_notice_has_a_word_and_a_mark(state: str) -> None:
    shown = notice_state(Notice(state=state))
    assert shown.word and shown.mark
