"""The long form of tests/safety/needs: `python -m tests.faults.needs_agree --histories 2000 [--seed N]`.

Each history is a case lived through the services at random; after each act every reader of what a case needs is held
to the one answer. Prints the acts of the first history in which one says something else.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys

from tests.faults.stage import CHECKOUT

TEST = "tests/safety/needs/test_agreement.py::test_every_reader_agrees_at_every_instant_of_random_histories"


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--histories", type=int, default=2000)
    asked.add_argument("--seed", type=int, default=1)
    said = asked.parse_args()
    environment = os.environ | {"NEEDS_HISTORIES": str(said.histories), "NEEDS_SEED": str(said.seed)}
    ended = subprocess.run(
        [sys.executable, "manage.py", "test", TEST, "-q"], cwd=CHECKOUT, env=environment, check=False
    )
    print("kept" if ended.returncode == 0 else "broken")
    return ended.returncode


if __name__ == "__main__":
    sys.exit(main())
