"""No file outside safety/notices spells the name of a kind: whoever needs one asks the registry."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from safety import registry
from tests.test_architecture import ROOT, sources, tree

NAMES = {kind.name for kind in registry.kinds()}
# Written where it means something else, or where it is the origin of the name.
ALLOWED = {
    # The stages of the plan give their kinds the name.
    "safety/rules/notices/follow_up.py": {"day-before", "day-of", "day-after", "visit-late", "decision-late", "titre-due"},
    "safety/rules/notices/site_plan.py": {
        "days-before", "day-before", "day-of", "day-after", "visit-late", "decision-late", "titre-due",
    },
    # An answer of the API, shown as an example.
    "safety/api/case/examples.py": {"day-before"},
    # The name of an address, and a refusal of the kit.
    "safety/urls.py": {"animal-word"},
    "staff/services/outing/kit.py": {"outing-moved"},
}  # fmt: skip


def spelt(path: Path) -> Iterator[str]:
    """Names with a hyphen anywhere; single words, which mean other things too, where a kind is compared or filtered."""
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Constant) and node.value in NAMES and "-" in str(node.value):
            yield node.value
        if isinstance(node, ast.keyword) and node.arg in ("kind", "kind__in"):
            yield from (
                one.value
                for one in ast.walk(node.value)
                if isinstance(one, ast.Constant) and one.value in NAMES
            )
        if (
            isinstance(node, ast.Compare)
            and isinstance(node.left, ast.Attribute)
            and node.left.attr == "kind"
        ):
            yield from (
                one.value
                for side in node.comparators
                for one in ast.walk(side)
                if isinstance(one, ast.Constant) and one.value in NAMES
            )


def test_no_other_file_spells_a_kind() -> None:
    found = {}
    for path in sources("safety", "staff", "config"):
        here = str(path.relative_to(ROOT))
        if here.startswith(("safety/notices/", "safety/migrations/")):
            continue
        if wrong := set(spelt(path)) - ALLOWED.get(here, set()):
            found[here] = sorted(wrong)
    assert found == {}


def test_no_template_asks_for_a_kind() -> None:
    asked = re.compile(r"notice\.kind")
    assert [
        str(path.relative_to(ROOT))
        for path in sorted((ROOT / "safety/templates").rglob("*.*"))
        if asked.search(path.read_text())
    ] == []


def test_nothing_is_read_out_of_a_key_or_a_reference() -> None:
    reading = re.compile(
        r"key__startswith|key__contains|key__regex|\.key\.(split|rsplit|partition|startswith|removeprefix)"
        r"|reference\.(split|removeprefix|partition)|re\.match\([^)]*\.key"
    )
    assert {
        str(path.relative_to(ROOT))
        for path in sources("safety")
        if "/migrations/" not in str(path) and reading.search(path.read_text())
    } == set()
