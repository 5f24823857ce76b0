"""`python -m tests.house`: the sizes of the house, each beside its limit; the exit code says whether all hold."""

from __future__ import annotations

import ast
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("staff", "safety", "config")
# A function behind one of these is a view: see staff.doors.
DOORS = {"page", "open_page", "private"}


@dataclass(frozen=True)
class Measure:
    """One figure of the house. `where`: the place that has it, for a figure that has one."""

    name: str
    found: float
    limit: float
    where: str = ""

    @property
    def holds(self) -> bool:
        return self.found <= self.limit

    def __str__(self) -> str:
        word = "holds" if self.holds else "short"
        return f"{word}  {self.name}: {self.found:g} (at most {self.limit:g}) {self.where}".rstrip()


def sources(*folders: str) -> list[Path]:
    """The Python files below `folders`, without migrations."""
    found = [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]
    return [path for path in found if "migrations" not in path.parts]


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(), str(path))


def functions(path: Path) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    return (node for node in ast.walk(tree(path)) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))


def size(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    return (node.end_lineno or node.lineno) - node.lineno + 1


def called(decorator: ast.expr) -> str:
    """The name a decorator goes by, with or without arguments."""
    named = decorator.func if isinstance(decorator, ast.Call) else decorator
    return named.id if isinstance(named, ast.Name) else ""


def is_view(node: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    return any(called(decorator) in DOORS for decorator in node.decorator_list)


def module(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def modules_used(path: Path, known: set[str]) -> set[str]:
    """Our modules that a file imports; `from package import module` is that module."""
    used: set[str] = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.ImportFrom) and node.module:
            inner = {f"{node.module}.{alias.name}" for alias in node.names} & known
            used |= inner or {node.module}
        elif isinstance(node, ast.Import):
            used |= {alias.name for alias in node.names}
    return (used & known) - {module(path)}


def circles(arrows: Mapping[str, set[str]]) -> set[str]:
    """The modules from which following imports leads back to themselves."""

    def reached(start: str) -> set[str]:
        seen: set[str] = set()
        waiting = list(arrows[start])
        while waiting:
            here = waiting.pop()
            if here not in seen:
                seen.add(here)
                waiting.extend(arrows.get(here, ()))
        return seen

    return {name for name in arrows if name in reached(name)}


def longest(sizes: Iterable[tuple[int, str]]) -> tuple[int, str]:
    return max(sizes, default=(0, ""))


def place(path: Path) -> str:
    return str(path.relative_to(ROOT))


def file_sizes(*folders: str) -> tuple[int, str]:
    return longest((len(path.read_text().splitlines()), place(path)) for path in sources(*folders))


def template_lines() -> Iterator[tuple[int, str]]:
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("templates/**/*")):
            if path.suffix in {".html", ".txt", ".svg"}:
                for number, line in enumerate(path.read_text().splitlines(), 1):
                    yield len(line), f"{place(path)}:{number}"


def siblings() -> Iterator[tuple[int, str]]:
    counted = Counter(path.parent for path in sources(*PACKAGES) if path.name != "__init__.py")
    return ((number, place(folder)) for folder, number in counted.items())


def measures() -> list[Measure]:
    """Every figure that is held."""
    ours = sources(*PACKAGES)
    known = {module(path) for path in ours}
    arrows = {module(path): modules_used(path, known) for path in ours}
    views = [
        (size(node), f"{place(path)}:{node.lineno}")
        for path in ours
        if "pages" in path.parts
        for node in functions(path)
        if is_view(node)
    ]
    bare = [f"{place(path)}:{node.lineno}" for path in ours for node in functions(path) if not node.returns]
    turning = sorted(circles(arrows))
    fan = longest((len(used), name) for name, used in arrows.items() if not name.endswith("urls"))
    return [
        Measure("lines of a view, median", median(lines for lines, _where in views), 10),
        Measure("lines of a view, longest", *with_limit(longest(views), 20)),
        Measure("lines of a file, longest", *with_limit(file_sizes(*PACKAGES), 250)),
        Measure("lines of a test file, longest", *with_limit(file_sizes("tests"), 400)),
        Measure("files side by side in a folder", *with_limit(longest(siblings()), 14)),
        Measure("characters of a template line", *with_limit(longest(template_lines()), 120)),
        Measure("modules of ours that a file imports, urls apart", *with_limit(fan, 12)),
        Measure("modules in a circle of imports", len(turning), 0, " ".join(turning[:5])),
        Measure("functions without a return annotation", len(bare), 0, " ".join(bare[:5])),
    ]


def with_limit(found: tuple[int, str], limit: int) -> tuple[int, int, str]:
    return found[0], limit, found[1]


def main() -> int:
    """Print every figure; 1 when one falls short."""
    found = measures()
    sys.stdout.writelines(f"{measure}\n" for measure in found)
    return 0 if all(measure.holds for measure in found) else 1


if __name__ == "__main__":
    sys.exit(main())
