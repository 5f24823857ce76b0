"""How two workers share the whole suite: a module at a time, the longest first, and what shares a service in one of them."""

from __future__ import annotations

from typing import Any

import pytest
from xdist.scheduler import LoadScopeScheduling

from tests.faults.servers import missing

# These use the one running service, the one Chromium or the run's own broker: one worker runs them all.
SERVICE = ("tests/browser/", "tests/config/test_launch_up.py", "tests/safety/pages/test_in_the_browser.py")
# This one empties the broker and cuts connections: of servers of its own, where there are programs for them.
FAULTS = "tests/faults/test_short_forms.py"
# What is begun last is what the other worker waits for at the end.
LONGEST = ("service", FAULTS, "tests/safety/needs/test_agreement.py", "tests/test_access.py")


class ByModule(LoadScopeScheduling):  # type: ignore[misc]
    def _split_scope(self, nodeid: str) -> str:
        together = (*SERVICE, FAULTS) if missing() else SERVICE
        return "service" if nodeid.startswith(together) else nodeid.partition("::")[0]

    def _assign_work_unit(self, node: Any) -> None:
        longest = next((scope for scope in LONGEST if scope in self.workqueue), None)
        if longest:
            self.workqueue.move_to_end(longest, last=False)
        super()._assign_work_unit(node)


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadScopeScheduling:
    return ByModule(config, log)
