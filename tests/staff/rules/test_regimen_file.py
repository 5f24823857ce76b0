"""The shipped file of regimens and its reader."""

import json

import pytest

from staff.rules.regimen_file import ForWhom, SourceKind, read_regimens
from staff.rules.values import Purpose
from tests.staff.rules.samples import FILE, SAMPLES, sample


def test_every_regimen_names_a_source_and_reads_as_words() -> None:
    for one in SAMPLES.values():
        assert one.source
        assert " " in one.name


def test_whatever_was_checked_by_nobody_says_that_it_is_from_memory() -> None:
    for one in SAMPLES.values():
        assert ("memory" in one.source) == (one.source_kind is SourceKind.MEMORY)


def test_every_post_exposure_dose_waits_for_its_planned_gap() -> None:
    for one in SAMPLES.values():
        if one.regimen.purpose is not Purpose.PRE_EXPOSURE:
            for index, step in enumerate(one.regimen.steps):
                assert step.smallest_gap == one.regimen.planned_gap(index)


def test_courses_for_the_immunised_are_for_nobody_else() -> None:
    for one in SAMPLES.values():
        immunised = one.regimen.purpose in (Purpose.POST_EXPOSURE_IMMUNISED, Purpose.BOOSTER)
        assert immunised == (one.for_whom is ForWhom.IMMUNISED)


def test_people_with_a_weak_immune_system_have_their_own_rows() -> None:
    weak = {code for code, one in SAMPLES.items() if one.for_whom is ForWhom.IMMUNOCOMPROMISED}
    assert weak == {code for code in SAMPLES if code.endswith("-immunocompromised")}
    assert len(weak) == 3


def test_only_the_fast_series_has_a_dose_that_comes_later() -> None:
    assert [code for code, one in SAMPLES.items() if one.regimen.later_steps] == ["prep-im-0-3-7-365"]


def test_the_same_code_and_version_twice_is_refused() -> None:
    rows = json.loads(FILE.read_text(encoding="utf-8"))
    with pytest.raises(ValueError, match="same code and version"):
        read_regimens(json.dumps([rows[0], rows[0]]))


@pytest.mark.parametrize(
    ("key", "value"),
    [("purpose", "cure"), ("routes", ["mouth"]), ("for_whom", "dogs"), ("source_kind", "rumour")],
)
def test_a_word_outside_the_format_is_refused(key: str, value: object) -> None:
    row = json.loads(FILE.read_text(encoding="utf-8"))[0] | {key: value}
    with pytest.raises(ValueError, match="is not a valid"):
        read_regimens(json.dumps([row]))


def test_a_missing_key_and_an_unknown_one_are_refused() -> None:
    row = json.loads(FILE.read_text(encoding="utf-8"))[0]
    with pytest.raises(KeyError, match="source"):
        read_regimens(json.dumps([{key: value for key, value in row.items() if key != "source"}]))
    with pytest.raises(TypeError, match="grace"):
        read_regimens(json.dumps([row | {"steps": [row["steps"][0] | {"grace": 4}]}]))


def test_the_words_of_the_row_reach_the_sample() -> None:
    five = sample("pep-im-0-3-7-14-28")
    assert five.for_whom is ForWhom.NOT_IMMUNISED
    assert five.regimen.version == 1
    assert "WER 2010;85(32)" in five.source
