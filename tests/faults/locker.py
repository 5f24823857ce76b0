"""Another process at the SQLite file: `python -m tests.faults.locker FILE SECONDS`.

It takes the write lock, spoils every waiting notice without committing, keeps the lock so long and gives it back
undone. Killed meanwhile it must leave nothing behind either: SQLite rolls a journal back that lies there.
"""

from __future__ import annotations

import sqlite3
import sys
import time

SPOILT = "spoilt"


def main(path: str, seconds: float) -> None:
    connection = sqlite3.connect(path, timeout=60, isolation_level=None)
    # So few pages in memory that what is spoilt reaches the file itself.
    connection.execute("PRAGMA cache_size=4")
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("UPDATE safety_notice SET reference = ?", [SPOILT])
    time.sleep(seconds)
    connection.execute("ROLLBACK")


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]))
