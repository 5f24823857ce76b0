"""How two workers share the whole suite: a module at a time, and what starts processes all in one of them."""

from __future__ import annotations

from typing import Any

import pytest
from xdist.scheduler import LoadScopeScheduling

# These start a service or a browser: one worker runs them all, so that there is one of each.
PROCESSES = ("tests/browser/", "tests/faults/", "tests/config/", "tests/safety/pages/test_in_the_browser.py")


class ByModule(LoadScopeScheduling):  # type: ignore[misc]
    def _split_scope(self, nodeid: str) -> str:
        return "processes" if nodeid.startswith(PROCESSES) else nodeid.partition("::")[0]


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadScopeScheduling:
    return ByModule(config, log)
