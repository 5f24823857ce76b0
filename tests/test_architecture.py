"""The lines between the packages and their layers, read from the source."""

from __future__ import annotations

import ast
import re
import sys
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("staff", "safety")
# A layer may import those before it; layers on one line stand side by side and don't import each other.
LAYERS = (
    {"ground"},
    {"errors"},
    {"rules"},
    {"planning", "places"},
    {"guards"},
    {"models"},
    {"registry"},
    {"words"},
    {"selectors"},
    {"notices"},
    {"emails", "letter"},
    {"outbox"},
    {"bell"},
    {"services"},
    {"doors"},
    {"forms", "api", "tasks", "demo"},
    {"pages", "admin", "management", "templatetags"},
    {"urls"},
)
# What of the ground the rules may stand on: these are plain values too.
PURE_GROUND = ("staff.ground.dates", "staff.ground.purposes", "staff.ground.roles")
# `apps` wires the package to Django and may see all of it; `migrations` are Django's.
OUTSIDE_LAYERS = {"apps", "migrations", "__init__"}


def sources(*folders: str) -> list[Path]:
    found = [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]
    assert found
    return found


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(), str(path))


def name_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def imported(path: Path) -> Iterator[tuple[int, str]]:
    """Every module a file imports, `from x import y` as x.y, for y may be a module; with its line."""
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            here = name_of(path).split(".")[: -node.level] if node.level else []
            base = ".".join([*here, *([node.module] if node.module else [])])
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)


def layer_of(module: str) -> str:
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "__init__"


def rank(layer: str) -> int:
    return next(index for index, names in enumerate(LAYERS) if layer in names)


def ours(module: str) -> bool:
    return module.split(".")[0] in PACKAGES


def breaks(path: Path, wrong: Iterator[tuple[int, str]]) -> list[str]:
    return [f"{path.relative_to(ROOT)}:{line} imports {module}" for line, module in wrong]


def test_staff_imports_nothing_of_safety() -> None:
    assert not [
        fault
        for path in sources("staff")
        for fault in breaks(path, ((n, m) for n, m in imported(path) if m.split(".")[0] == "safety"))
    ]


def test_no_package_imports_config() -> None:
    assert not [
        fault
        for path in sources(*PACKAGES)
        for fault in breaks(path, ((n, m) for n, m in imported(path) if m.split(".")[0] == "config"))
    ]


@pytest.mark.parametrize("package", PACKAGES)
def test_rules_import_the_standard_library_and_dateutil_alone(package: str) -> None:
    own = ("staff.rules", "safety.rules") if package == "safety" else ("staff.rules",)
    own += PURE_GROUND

    def wrong(path: Path) -> Iterator[tuple[int, str]]:
        for line, module in imported(path):
            top = module.split(".")[0]
            if top not in sys.stdlib_module_names and top != "dateutil" and not module.startswith(own):
                yield line, module

    assert not [fault for path in sources(f"{package}/rules") for fault in breaks(path, wrong(path))]


@pytest.mark.parametrize("package", PACKAGES)
def test_every_part_of_a_package_has_its_layer(package: str) -> None:
    parts = {layer_of(name_of(path)) for path in sources(package)}
    assert parts <= set().union(*LAYERS) | OUTSIDE_LAYERS


@pytest.mark.parametrize("package", PACKAGES)
def test_a_layer_imports_only_what_stands_before_it(package: str) -> None:
    """Across packages the same holds: a service of safety may use services of staff, not its pages or API views."""

    def wrong(path: Path) -> Iterator[tuple[int, str]]:
        layer = layer_of(name_of(path))
        if layer in OUTSIDE_LAYERS:
            return
        for line, module in imported(path):
            other = layer_of(module)
            if not ours(module) or other in OUTSIDE_LAYERS:
                continue
            if rank(other) > rank(layer) or (rank(other) == rank(layer) and other != layer):
                yield line, module

    assert not [fault for path in sources(package) for fault in breaks(path, wrong(path))]


def test_nothing_is_imported_inside_a_function() -> None:
    inside = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in sources(*PACKAGES, "config")
        for function in ast.walk(tree(path))
        if isinstance(function, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda))
        for node in ast.walk(function)
        if isinstance(node, (ast.Import, ast.ImportFrom))
    ]
    assert not inside


def test_no_file_is_called_utils_or_helpers() -> None:
    called = re.compile(r"^(utils?|helpers?|common|misc)$")
    assert not [
        path.relative_to(ROOT)
        for path in sources(*PACKAGES, "config", "tests")
        if any(called.match(part) for part in path.relative_to(ROOT).with_suffix("").parts)
    ]


def test_the_program_never_asks_whether_it_is_being_tested() -> None:
    """Neither by looking for the test runner nor by importing from the tests."""
    asking = re.compile(r"PYTEST_|_pytest|\bpytest\b|unittest|[\"']test[\"'] in sys\.argv|\bTESTING\b")
    # The command `test` is the one that starts the runner.
    runner = {"config/launch/suite.py"}
    assert not [
        f"{path.relative_to(ROOT)}: {found[0]}"
        for path in sources(*PACKAGES, "config")
        if str(path.relative_to(ROOT)) not in runner and (found := asking.search(path.read_text()))
    ]
    assert not [
        fault
        for path in sources(*PACKAGES, "config")
        for fault in breaks(path, ((n, m) for n, m in imported(path) if m.split(".")[0] == "tests"))
    ]


def test_business_effects_are_not_hidden_in_signals() -> None:
    """A signal may put the guards in place after a migrate; nothing else listens."""
    listening = re.compile(r"@receiver|\b(pre|post)_(save|delete|init)\b|m2m_changed")
    assert not [path.relative_to(ROOT) for path in sources(*PACKAGES) if listening.search(path.read_text())]


def test_a_new_line_between_packages_would_be_found(tmp_path: Path) -> None:
    """The reader of imports sees every way of writing one."""
    text = "import safety.models\nfrom safety import models\ndef f():\n    from safety.models import Notice\n"
    file = tmp_path / "sample.py"
    file.write_text(text)
    assert [module for _line, module in imported(file)] == [
        "safety.models",
        "safety.models",
        "safety.models.Notice",
    ]


def test_the_map_names_the_layers_as_they_are_held_here() -> None:
    said = re.search(r"Inside a package: `([^`]+)`", (ROOT / "DEVELOPERS.md").read_text())
    assert said
    assert tuple(set(re.split(r",\s*", part)) for part in re.split(r"\s*<\s*", said[1])) == LAYERS


# Used by the tests alone: the reference for what is stored, the question the bench measures, the check of the
# samples, and what the liaison's desk asks about animals.
ONLY_TESTED = {"clearance_of"}


def test_every_function_of_rules_reads_and_writes_is_used_by_the_program() -> None:
    named = Counter(
        name for path in sources(*PACKAGES, "config") for name in re.findall(r"\w+", path.read_text())
    )
    unused = {
        node.name
        for package in PACKAGES
        for layer in ("rules", "selectors", "services")
        for path in sources(f"{package}/{layer}")
        for node in tree(path).body
        if isinstance(node, ast.FunctionDef) and named[node.name] == 1
    }
    assert unused == ONLY_TESTED


def test_the_top_folders_are_those_of_the_map() -> None:
    folders = {
        path.name for path in ROOT.iterdir() if path.is_dir() and not path.name.startswith((".", "__"))
    }
    assert folders - {"data"} == {"config", "staff", "safety", "tests", "fixtures"}


# Who writes the trail, and the model itself. What happened to a row is read from rows.
TRAIL = {"staff.services.audit", "staff.models.site.audit", "staff.models"}


def test_nothing_but_the_trail_itself_reads_the_audit_trail() -> None:
    readers = {
        f"{name_of(path)}:{line}"
        for path in sources(*PACKAGES)
        if "migrations" not in path.parts and name_of(path) not in TRAIL
        for line, module in imported(path)
        if module.split(".")[-1] == "AuditEntry" or module.startswith("staff.models.site.audit")
    }
    joins = {
        f"{name_of(path)}:{node.lineno}"
        for path in sources(*PACKAGES)
        for node in ast.walk(tree(path))
        if "audit_entries" in (getattr(node, "attr", ""), getattr(node, "arg", "") or "")
    }
    assert readers | joins == set()
