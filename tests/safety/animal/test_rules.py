"""Days and outcomes of an observation. Ten days for a dog or cat, the exposure being day 0: WHO 2018, read in a secondary
copy; one country asks for 14. When a laboratory has a say: common practice, no source."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from safety.rules.animal.observation import (
    GRACE,
    CheckFact,
    Objection,
    Outcome,
    Seen,
    Watch,
    asks_this_morning,
    link_open,
    missing_days,
    objection_to,
    term_of,
    unseen_twice,
    watch_state,
    words_of_days,
)

FIRST, LAST = date(2028, 2, 25), date(2028, 3, 6)  # Ten days over a leap day.
DAY = timedelta(days=1)
WELL_AT_LAST = [CheckFact(LAST, Seen.WELL)]


def objection(
    outcome: Outcome,
    *,
    today: date = LAST,
    checks: list[CheckFact] = WELL_AT_LAST,
    outcomes: tuple[Outcome, ...] = (),
    note: str = "",
) -> Objection | None:
    return objection_to(outcome, last_on=LAST, checks=checks, outcomes=outcomes, note=note, today=today)


@pytest.mark.parametrize(
    ("today", "state"),
    [(LAST - DAY, Watch.WATCHING), (LAST, Watch.LAST_DAY), (LAST + DAY, Watch.LAST_DAY)],
)
def test_the_last_day_is_reached_on_that_day_and_not_the_day_before(today: date, state: Watch) -> None:
    assert watch_state(last_on=LAST, outcomes=(), today=today) is state


@pytest.mark.parametrize(
    ("today", "said"),
    [(LAST - DAY, Objection.TOO_EARLY), (LAST, None), (LAST + DAY, None)],
)
def test_well_at_the_end_is_said_from_the_last_day_on(today: date, said: Objection | None) -> None:
    assert objection(Outcome.WELL, today=today) == said


@pytest.mark.parametrize(
    "checks",
    [
        [],
        [CheckFact(LAST - DAY, Seen.WELL)],
        [CheckFact(LAST, Seen.NOT_SEEN)],
        [CheckFact(LAST, Seen.WELL), CheckFact(LAST, Seen.ILL)],
        [CheckFact(LAST, Seen.WELL), CheckFact(LAST + DAY, Seen.ILL)],
    ],
)
def test_well_at_the_end_needs_the_newest_word_of_the_last_day_or_later_to_say_so(
    checks: list[CheckFact],
) -> None:
    assert objection(Outcome.WELL, today=LAST + DAY, checks=checks) is Objection.LAST_CHECK_MISSING


def test_a_missed_last_day_is_made_good_the_day_after() -> None:
    assert objection(Outcome.WELL, today=LAST + DAY, checks=[CheckFact(LAST + DAY, Seen.WELL)]) is None


@pytest.mark.parametrize("seen", [Seen.ILL, Seen.ESCAPED])
def test_signs_or_an_escape_meanwhile_ask_who_judged_it_well(seen: Seen) -> None:
    checks = [CheckFact(FIRST + DAY, seen), *WELL_AT_LAST]
    assert objection(Outcome.WELL, checks=checks) is Objection.SAYS_NOBODY_JUDGED
    assert objection(Outcome.WELL, checks=checks, note="a veterinarian, lame leg") is None


@pytest.mark.parametrize("seen", [Seen.DIED, Seen.KILLED])
def test_what_is_said_to_be_dead_is_not_well_whatever_the_note(seen: Seen) -> None:
    checks = [CheckFact(FIRST + DAY, seen), *WELL_AT_LAST]
    assert objection(Outcome.WELL, checks=checks, note="seen") is Objection.NOT_ALIVE


@pytest.mark.parametrize("outcome", sorted(set(Outcome) - {Outcome.ILL}))
def test_after_an_outcome_that_ends_the_watch_well_is_refused(outcome: Outcome) -> None:
    assert objection(Outcome.WELL, outcomes=(outcome,)) is Objection.NOT_ALIVE


@pytest.mark.parametrize("answer", [Outcome.FOUND, Outcome.NOT_FOUND, Outcome.UNFIT])
def test_a_laboratory_answers_a_sample_and_answers_it_once(answer: Outcome) -> None:
    assert objection(answer) is Objection.NO_SAMPLE
    assert objection(answer, outcomes=(Outcome.DIED, Outcome.SAMPLED)) is None
    assert objection(answer, outcomes=(Outcome.SAMPLED, answer)) is Objection.NO_SAMPLE


def test_a_second_sample_follows_one_that_was_unfit_and_no_other() -> None:
    assert objection(Outcome.SAMPLED, outcomes=(Outcome.DIED,)) is None
    assert objection(Outcome.SAMPLED, outcomes=(Outcome.SAMPLED,)) is Objection.SAMPLE_ON_RECORD
    assert objection(Outcome.SAMPLED, outcomes=(Outcome.SAMPLED, Outcome.UNFIT)) is None
    assert objection(Outcome.SAMPLED, outcomes=(Outcome.SAMPLED, Outcome.FOUND)) is Objection.SAMPLE_ON_RECORD


@pytest.mark.parametrize(
    ("outcomes", "state"),
    [
        ((Outcome.ILL,), Watch.LAST_DAY),  # Signs end no watch.
        ((Outcome.ESCAPED,), Watch.ENDED),
        ((Outcome.DIED, Outcome.SAMPLED), Watch.LABORATORY),
        ((Outcome.DIED, Outcome.SAMPLED, Outcome.UNFIT), Watch.ENDED),
        ((Outcome.SAMPLED, Outcome.UNFIT, Outcome.SAMPLED), Watch.LABORATORY),
        ((Outcome.SAMPLED, Outcome.ILL), Watch.LABORATORY),
    ],
)
def test_where_the_watch_stands_after_what_was_said(outcomes: tuple[Outcome, ...], state: Watch) -> None:
    assert watch_state(last_on=LAST, outcomes=outcomes, today=LAST) is state


def test_the_day_of_the_exposure_asks_for_no_check_and_the_last_day_does() -> None:
    term = term_of(first_on=FIRST, last_on=LAST, begun_on=FIRST)
    assert term.days()[0] == FIRST + DAY
    assert term.days()[-1] == LAST
    assert len(term.days()) == 10
    assert date(2028, 2, 29) in term.days()


def test_a_watch_begun_late_asks_from_the_day_it_was_begun() -> None:
    assert term_of(first_on=FIRST, last_on=LAST, begun_on=FIRST + 4 * DAY).days()[0] == FIRST + 4 * DAY
    assert term_of(first_on=FIRST, last_on=LAST, begun_on=LAST + DAY).days() == []


def test_todays_check_is_not_missing_before_the_day_is_over() -> None:
    term = term_of(first_on=FIRST, last_on=LAST, begun_on=FIRST)
    assert missing_days(term, {}, FIRST + DAY) == []
    assert missing_days(term, {}, FIRST + 2 * DAY) == [FIRST + DAY]
    assert missing_days(term, {FIRST + DAY: Seen.WELL}, FIRST + 2 * DAY) == []


def test_a_missing_check_is_asked_for_the_morning_after() -> None:
    term = term_of(first_on=FIRST, last_on=LAST, begun_on=FIRST)
    seen = {FIRST + DAY: Seen.WELL}
    assert not asks_this_morning(term, {}, Watch.WATCHING, FIRST + DAY)
    assert asks_this_morning(term, {}, Watch.WATCHING, FIRST + 2 * DAY)
    assert not asks_this_morning(term, seen, Watch.WATCHING, FIRST + 2 * DAY)
    assert not asks_this_morning(term, {}, Watch.ENDED, FIRST + 2 * DAY)


@pytest.mark.parametrize(
    ("today", "asked"),
    [(LAST, False), (LAST + DAY, True), (LAST + GRACE + DAY, True), (LAST + GRACE + 2 * DAY, False)],
)
def test_after_the_last_day_the_end_is_asked_for_each_morning_for_a_week(today: date, asked: bool) -> None:
    term = term_of(first_on=FIRST, last_on=LAST, begun_on=FIRST)
    everything = {FIRST + n * DAY: Seen.WELL for n in range(20)}
    assert asks_this_morning(term, everything, Watch.LAST_DAY, today) is asked


@pytest.mark.parametrize(
    ("today", "works"), [(LAST, True), (LAST + GRACE, True), (LAST + GRACE + DAY, False)]
)
def test_the_link_takes_words_through_the_days_of_grace(today: date, works: bool) -> None:
    term = term_of(first_on=FIRST, last_on=LAST, begun_on=FIRST)
    assert link_open(term, Watch.LAST_DAY, today) is works
    assert not link_open(term, Watch.ENDED, today)
    assert not link_open(term, Watch.LABORATORY, today)


def test_two_days_running_unseen_and_not_two_days_with_one_between() -> None:
    unseen = Seen.NOT_SEEN
    assert unseen_twice({FIRST: unseen, FIRST + DAY: unseen}) == [FIRST + DAY]
    assert unseen_twice({FIRST: unseen, FIRST + 2 * DAY: unseen}) == []
    assert unseen_twice({FIRST: unseen, FIRST + DAY: Seen.WELL, FIRST + 2 * DAY: unseen}) == []


def test_of_several_words_of_a_day_the_newest_counts() -> None:
    assert words_of_days([CheckFact(FIRST, Seen.ILL), CheckFact(FIRST, Seen.WELL)]) == {FIRST: Seen.WELL}
