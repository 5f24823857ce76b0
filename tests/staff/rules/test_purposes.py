"""One table says what each purpose is; nothing else tells purposes apart."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from staff.ground import purposes
from staff.ground.purposes import COURSES, PROVING, PURPOSES, SERIES, ForWhom, courses_for
from staff.models import Dose, Purpose, Regimen
from staff.rules.record.dose_standing import judge_doses
from staff.rules.record.facts import ClearanceRules, PersonFacts
from staff.rules.regimen.values import DoseFact

DAY = date(2026, 1, 5)
ROOT = Path(__file__).resolve().parents[3]
TABLE = ROOT / "staff" / "ground" / "purposes.py"


def test_what_the_rows_say_is_what_the_trade_says() -> None:
    """WHO position paper 2018 (read in a secondary copy): a series before exposure, courses after it by whether the
    person is immunised. That the short course proves nothing, and what a list may bring, is decided here."""
    assert {purpose.value for purpose in SERIES} == {"pre-exposure"}
    assert {purpose.value for purpose in COURSES} == {"post-exposure", "post-exposure-immunised"}
    assert {purpose.value for purpose in PROVING} == {"post-exposure"}
    assert courses_for(ForWhom.NOT_IMMUNISED) == {purposes.Purpose.POST_EXPOSURE}
    assert courses_for(ForWhom.IMMUNISED) == {purposes.Purpose.POST_EXPOSURE_IMMUNISED}
    assert courses_for(ForWhom.IMMUNOCOMPROMISED) == courses_for(ForWhom.ANYONE) == frozenset()
    assert [row.purpose.value for row in PURPOSES.values() if row.by_list] == ["pre-exposure", "booster"]


def test_every_purpose_has_its_word_and_fits_its_columns() -> None:
    assert set(Purpose.values) == {purpose.value for purpose in PURPOSES}
    for model in (Dose, Regimen):
        field = model._meta.get_field("purpose")
        assert [code for code, _words in field.flatchoices] == list(Purpose.values)
        assert max(map(len, Purpose.values)) <= (field.max_length or 0)


def test_a_dose_that_no_series_reads_says_why_whatever_its_purpose() -> None:
    doses = tuple(DoseFact(DAY, purpose=purpose, id=number) for number, purpose in enumerate(PURPOSES))
    facts, rules = PersonFacts(doses=doses), ClearanceRules()
    judged = judge_doses(facts=facts, rules=rules, pre_exposure=(), post_exposure=())
    assert [str(one.reason) for one in judged] == [row.unread for row in PURPOSES.values()]


def test_rows_that_contradict_themselves_or_each_other_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    good = dict(PURPOSES)
    for purpose, change in (
        ("BOOSTER", {"list_words": ("pep",)}),
        ("BOOSTER", {"proves": True}),
        ("PRE_EXPOSURE", {"course": True}),
        ("POST_EXPOSURE", {"given_to": None}),
    ):
        key = purposes.Purpose[purpose]
        row = purposes.PurposeRow(**{**vars(good[key]), **change})
        monkeypatch.setattr(purposes, "PURPOSES", {**good, key: row})
        with pytest.raises(RuntimeError):
            purposes.check_rows()


def _told_apart(tree: ast.AST) -> Iterator[ast.expr]:
    """Expressions that compare with a purpose by name, choose by one or list some."""
    for node in ast.walk(tree):
        match node:
            case ast.Compare():
                yield from filter(_names_one, [node.left, *node.comparators])
            case ast.Dict():
                yield from (key for key in node.keys if key is not None and _names_one(key))
            case ast.MatchValue() | ast.keyword(arg="purpose__in"):
                yield from filter(_names_one, [node.value])
            case ast.Assign(value=ast.Tuple() | ast.List() | ast.Set()):
                yield from filter(_is_one, node.value.elts)


def _names_one(part: ast.expr) -> bool:
    return any(isinstance(each, ast.expr) and _is_one(each) for each in ast.walk(part))


def _is_one(each: ast.expr) -> bool:
    named = isinstance(each, ast.Attribute) and each.attr in purposes.Purpose.__members__
    return named and ast.unparse(each.value).split(".")[-1] == "Purpose"  # type: ignore[attr-defined]


def test_no_branch_names_a_purpose() -> None:
    found = set()
    for app in ("staff", "safety"):
        for path in (ROOT / app).rglob("*.py"):
            if "migrations" not in path.parts and path != TABLE:
                lines = list(_told_apart(ast.parse(path.read_text(encoding="utf-8"))))
                found |= {str(path.relative_to(ROOT)) for _line in lines}
        for path in (ROOT / app).rglob("*.html"):
            if re.search(r"\bpurpose\s*[!=]=", path.read_text(encoding="utf-8")):
                found.add(str(path.relative_to(ROOT)))
    assert found == set()
