"""`python -m tests.house`: the sizes of the house, each beside its limit; the exit code says whether all hold."""

from __future__ import annotations

import ast
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("staff", "safety", "config")
# A function behind one of these is a view: see staff.doors.
DOORS = {"page", "open_page", "private"}


# A figure, and the place that has it where one has.
Found = tuple[float, str]


@dataclass(frozen=True)
class Measure:
    """One figure of the house: what it may be at most, and how it is found."""

    name: str
    limit: float
    find: Callable[[], Found]


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


def longest(sizes: Iterable[tuple[int, str]]) -> Found:
    return max(sizes, default=(0, ""))


def place(path: Path, node: ast.FunctionDef | ast.AsyncFunctionDef | None = None) -> str:
    return f"{path.relative_to(ROOT)}" + (f":{node.lineno}" if node else "")


def file_sizes(*folders: str) -> Iterator[tuple[int, str]]:
    return ((len(path.read_text().splitlines()), place(path)) for path in sources(*folders))


def views() -> Iterator[tuple[int, str]]:
    for path in sources(*PACKAGES):
        if "pages" in path.parts:
            yield from ((size(node), place(path, node)) for node in functions(path) if is_view(node))


def template_lines() -> Iterator[tuple[int, str]]:
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("templates/**/*")):
            if path.suffix in {".html", ".txt", ".svg"}:
                for number, line in enumerate(path.read_text().splitlines(), 1):
                    yield len(line), f"{place(path)}:{number}"


def siblings() -> Iterator[tuple[int, str]]:
    counted = Counter(path.parent for path in sources(*PACKAGES) if path.name != "__init__.py")
    return ((number, place(folder)) for folder, number in counted.items())


def arrows() -> dict[str, set[str]]:
    """Each module and those of ours that it imports."""
    known = {module(path) for path in sources(*PACKAGES)}
    return {module(path): modules_used(path, known) for path in sources(*PACKAGES)}


def imports() -> Iterator[tuple[int, str]]:
    """How many modules of ours each file imports; a table of addresses names every page there is."""
    used = arrows()
    for path in sources(*PACKAGES):
        if path.name != "urls.py":
            yield len(used[module(path)]), place(path)


def median_view() -> Found:
    return median(lines for lines, _where in views()), ""


def circle() -> Found:
    turning = sorted(circles(arrows()))
    return len(turning), " ".join(turning[:5])


def unannotated() -> Found:
    bare = [
        place(path, node) for path in sources(*PACKAGES) for node in functions(path) if node.returns is None
    ]
    return len(bare), " ".join(bare[:5])


MEASURES = (
    Measure("lines of a view, median", 10, median_view),
    Measure("lines of a view, longest", 20, lambda: longest(views())),
    Measure("lines of a file, longest", 250, lambda: longest(file_sizes(*PACKAGES))),
    Measure("lines of a test file, longest", 400, lambda: longest(file_sizes("tests"))),
    Measure("files side by side in a folder", 14, lambda: longest(siblings())),
    Measure("characters of a template line", 120, lambda: longest(template_lines())),
    Measure("modules of ours that a file imports, urls apart", 12, lambda: longest(imports())),
    Measure("modules in a circle of imports", 0, circle),
    Measure("functions without a return annotation", 0, unannotated),
)


def main() -> int:
    """Print every figure; 1 when one falls short."""
    short = 0
    for measure in MEASURES:
        found, where = measure.find()
        short += found > measure.limit
        word = "short" if found > measure.limit else "holds"
        sys.stdout.write(
            f"{word}  {measure.name}: {found:g} (at most {measure.limit:g}) {where}".rstrip() + "\n"
        )
    return bool(short)


if __name__ == "__main__":
    sys.exit(main())
