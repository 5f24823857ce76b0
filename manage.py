#!/usr/bin/env python3
"""The one door: `python3 manage.py up`, `python3 manage.py test`, and every Django command.

This file must be readable by any Python 3, so that an old one can say what it lacks.
"""

import os
import sys

if sys.version_info < (3, 11):  # noqa: UP036
    sys.stderr.write(
        "Three-Fifteen needs Python 3.11 or newer and this is {}.{}: start it with a newer one, "
        "for example `python3.11 manage.py up`.\n".format(*sys.version_info[:2])
    )
    sys.exit(2)
if os.name != "posix":
    sys.stderr.write("Three-Fifteen runs on Linux and macOS: on Windows, start it inside WSL.\n")
    sys.exit(2)

from importlib import import_module, util  # noqa: E402  (after the version sentence)
from pathlib import Path  # noqa: E402

ROOT = Path(__file__).resolve().parent
OURS = {"up": "config.launch.up", "test": "config.launch.suite"}


def enter_environment() -> None:
    """Return inside the locked environment, or start again there.

    The bootstrap is loaded by its path: the package `config` itself needs what it is about to install.
    """
    folder = ROOT / "config" / "bootstrap"
    spec = util.spec_from_file_location(
        "bootstrap", folder / "__init__.py", submodule_search_locations=[str(folder)]
    )
    if spec is None or spec.loader is None:
        raise SystemExit("config/bootstrap is missing: this checkout is not whole, fetch it again.")
    bootstrap = util.module_from_spec(spec)
    sys.modules["bootstrap"] = bootstrap
    spec.loader.exec_module(bootstrap)
    bootstrap.enter(sys.argv, root=ROOT)


def main() -> int:
    """Run one command and return its exit code."""
    enter_environment()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    name, rest = (sys.argv[1] if len(sys.argv) > 1 else "help"), sys.argv[2:]
    if name in OURS:
        return int(import_module(OURS[name]).main(rest))
    if name in {"help", "--help", "-h"} and not rest:
        sys.stdout.write("up    start everything here: web server, worker, clock\ntest  run every test\n\n")
    import_module("django.core.management").execute_from_command_line(sys.argv)
    return 0


if __name__ == "__main__":
    sys.exit(main())
