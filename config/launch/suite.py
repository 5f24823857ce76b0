"""`python3 manage.py test [pytest's arguments]`: every test, in a fresh data folder.

What this machine lacks is skipped and named at the end; with CI=true it is an error (see tests/needs.py).
"""

from __future__ import annotations

import os
import signal
import tempfile
from collections.abc import Sequence

import pytest

from config.env import CHECKOUT


def main(arguments: Sequence[str]) -> int:
    """Run pytest from the top of the checkout; returns its exit code (5: no test ran)."""
    os.chdir(CHECKOUT)
    # A shell starts what it puts in the background deaf to Ctrl-C, and so would be all that the tests start.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    with tempfile.TemporaryDirectory(prefix="three-fifteen-test-") as folder:
        os.environ["DATA_DIR"] = folder
        # On another database the default would ask for a mail server; no mail may leave a test run.
        os.environ.setdefault("DEMO", "1")
        # All of it on two processors at once; a chosen part isn't worth a second set-up.
        beside = [] if arguments else ["-n", "2", "-p", "tests.workers"]
        return int(pytest.main(["-rs", "-p", "tests.needs", *beside, *arguments]))
