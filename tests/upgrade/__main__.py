"""A database of an old commit is upgraded by this checkout, and nothing of it is lost, told again or said otherwise:
`python -m tests.upgrade [--postgres ADDRESS] [--keep]`.

Builds the database with a checkout of that commit in a temporary folder: its demo, and what `old_life` lives through.
ADDRESS is a PostgreSQL database that may be made and dropped; without it SQLite. Needs the repository's history.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.upgrade.compare import Database, Seen, differences, look
from tests.upgrade.stages import OLD_ENDS, Checkout, made_anew

COMMIT = "1d44a2c"
HERE = Path(__file__).resolve().parents[2]


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--postgres", metavar="ADDRESS", default="", help="postgres://user@host:port/name")
    asked.add_argument("--keep", action="store_true", help="Keep the folder, and say where it is.")
    said = asked.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="upgrade-"))
    try:
        faults = upgrade(folder, said.postgres)
    finally:
        subprocess.run(
            ["git", "-C", str(HERE), "worktree", "remove", "--force", str(folder / "old")], check=False
        )
        if said.keep:
            print(f"kept: {folder}")
        else:
            shutil.rmtree(folder)
    print("\n".join(faults) if faults else "upgraded: nothing differs")
    return 1 if faults else 0


def upgrade(folder: Path, postgres: str) -> list[str]:
    data = folder / "data"
    data.mkdir()
    subprocess.run(
        ["git", "-C", str(HERE), "worktree", "add", "-q", "--detach", str(folder / "old"), COMMIT], check=True
    )
    if postgres:
        made_anew(postgres)
    database = Database(data / "three-fifteen.sqlite3", postgres)
    old, new = Checkout(folder / "old", data, postgres), Checkout(HERE, data, postgres)
    old.manage("migrate", "-v0")
    old.manage("load_demo")
    old.run(Path(__file__).with_name("old_life.py"))
    before = look(database)
    new.manage("migrate", "-v0")
    return [
        *differences(before, look(database)),
        *_lives_on(new, database),
        *_there_and_back(new, before, database),
    ]


def _lives_on(new: Checkout, database: Database) -> list[str]:
    """The first ticks of the new service say nothing that was said, and the records agree."""
    before = look(database)
    faults = new.faults("verify_records")
    counted = "SELECT count(*) FROM safety_handledtally"
    counts = database.rows(counted)[0][0]
    new.manage("send_due")
    new.manage("send_due")
    told = look(database).notices.keys() - before.notices.keys()
    sent = [
        key
        for key, state in look(database).notices.items()
        if state != before.notices.get(key) and key not in told
    ]
    if database.rows(counted)[0][0] != counts + 1:
        faults.append("the count that was held isn't counted")
    faults += [f"a notice is added by the upgrade: {key}" for key in sorted(told)]
    faults += [f"a notice moves by the upgrade: {key}" for key in sorted(sent)]
    return faults + new.faults("verify_records")


def _there_and_back(new: Checkout, before: Seen, database: Database) -> list[str]:
    """Back to the old commit's tables and forwards again; what was voided and withdrawn stays so."""
    for app, name in OLD_ENDS:
        new.manage("migrate", app, name, "-v0")
    new.manage("migrate", "-v0")
    after = look(database)
    faults = [f"there and back: {row} is half voided" for row in after.half_voided]
    if (after.voided, after.withdrawn) != (before.voided, before.withdrawn):
        faults.append("there and back: other rows are voided or withdrawn")
    return [*faults, *after.loose, *new.faults("verify_records")]


if __name__ == "__main__":
    os.chdir(HERE)
    sys.exit(main())
