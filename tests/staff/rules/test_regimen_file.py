"""The shipped file of regimens. What its reader refuses is tested in tests/staff/test_regimen_file.py."""

from staff.models import Regimen
from staff.rules.regimen.values import Purpose
from tests.staff.rules.samples import SAMPLES, sample

ForWhom, SourceKind = Regimen.ForWhom, Regimen.SourceKind


def test_every_regimen_names_a_source_and_reads_as_words() -> None:
    for one in SAMPLES.values():
        assert one.facts.source
        assert " " in one.facts.name


def test_whatever_was_checked_by_nobody_says_that_it_is_from_memory() -> None:
    for one in SAMPLES.values():
        assert ("memory" in one.facts.source) == (one.facts.source_kind == SourceKind.MEMORY)


def test_every_post_exposure_dose_waits_for_its_planned_gap() -> None:
    for one in SAMPLES.values():
        if one.regimen.purpose is not Purpose.PRE_EXPOSURE:
            for index, step in enumerate(one.regimen.steps):
                assert step.smallest_gap == one.regimen.planned_gap(index)


def test_courses_for_the_immunised_are_for_nobody_else() -> None:
    for one in SAMPLES.values():
        immunised = one.regimen.purpose in (Purpose.POST_EXPOSURE_IMMUNISED, Purpose.BOOSTER)
        assert immunised == (one.facts.for_whom == ForWhom.IMMUNISED)


def test_people_with_a_weak_immune_system_have_their_own_rows() -> None:
    weak = {code for code, one in SAMPLES.items() if one.facts.for_whom == ForWhom.IMMUNOCOMPROMISED}
    assert weak == {code for code in SAMPLES if code.endswith("-immunocompromised")}
    assert len(weak) == 3


def test_only_the_series_with_a_dose_at_a_year_have_one_that_comes_later() -> None:
    assert [code for code, one in SAMPLES.items() if one.regimen.later_steps] == [
        "prep-im-0-3-7-365",
        "prep-im-0-7-21-365",
    ]


def test_the_words_of_the_row_reach_the_sample() -> None:
    five = sample("pep-im-0-3-7-14-28")
    assert five.facts.for_whom == ForWhom.NOT_IMMUNISED
    assert five.regimen.version == 1
    assert "WER 2010;85(32)" in five.facts.source
