"""What the sink has taken beside what the table says, and the figures of the promise."""

from __future__ import annotations

import sqlite3
import time
from collections import Counter
from dataclasses import dataclass, field

from tests.faults.locker import SPOILT
from tests.faults.stage import Stage, say

# How many mails one fault may catch between the final dot and the note of it: a process holds two threads, and all
# six processes meet a database that goes.
IN_THE_AIR = {"kill": 2, "freeze": 2, "cut": 6, "restart": 6, "lock": 6}


@dataclass
class Tally:
    """What was done to the service, and how many extra copies that may explain."""

    done: Counter[str] = field(default_factory=Counter)
    unanswered: int = 0

    @property
    def copies_allowed(self) -> int:
        return self.unanswered + sum(IN_THE_AIR.get(name, 0) * count for name, count in self.done.items())


def verdict(stage: Stage, tag: str, wanted: list[str], tally: Tally) -> bool:
    """Compare the sets of Message-IDs of the table and of the sink; print the figures."""
    from safety.models import Notice, NoticeEvent  # noqa: PLC0415  (Django is set up by main)

    taken = stage.taken()
    rows = {row.message_id: row for row in Notice.objects.all()}
    copies = Counter(mail["message_id"] for mail in taken)
    refused = {key for key, row in rows.items() if "refused" in row.email}
    told_of = set(Notice.objects.exclude(refused=None).values_list("refused", flat=True))
    wrong = {
        "lost": [key for key in rows if key not in refused and not copies[key]],
        "not noted as sent": [k for k in rows if k not in refused and rows[k].state != Notice.State.SENT],
        "refused but not failed": [key for key in refused if rows[key].state != Notice.State.FAILED],
        "refused and nobody told": [key for key in refused if rows[key].pk not in told_of],
        "not ours": [key for key in copies if key not in rows],
        "wanted and not in the table": [key for key in wanted if key not in rows],
        "same mail, other Message-ID": _under_two_ids(taken),
        "spoilt by a write that was never committed": [k for k in rows if rows[k].reference == SPOILT],
        "the SQLite file": _damage(stage),
    }
    own = {key: copies[key] for key in wanted if copies[key]}
    doubles = sum(count - 1 for count in own.values())
    taken_over = NoticeEvent.objects.filter(why__contains="lease lapsed", notice__key__startswith=tag).count()
    last = max((mail["at"] for mail in taken), default=0.0)
    say(
        f"{tag}: {len(wanted)} notices, {len(own)} left, {len(wrong['lost'])} lost, {doubles} extra copies "
        f"(allowed {tally.copies_allowed}; at most {max(own.values(), default=1) - 1} of one mail; mails the server "
        f"took without a timely answer: {tally.unanswered}), {taken_over} leases taken over, "
        f"{len(refused)} refused for good ({len(wrong['refused and nobody told'])} untold), "
        f"last mail at {time.strftime('%H:%M:%S', time.localtime(last))}"
    )
    for what, which in wrong.items():
        if which:
            say(f"  {what}: {which[:5]}")
    return not any(wrong.values()) and doubles <= tally.copies_allowed


def _under_two_ids(taken: list[dict[str, object]]) -> list[str]:
    ids: dict[str, set[object]] = {}
    for mail in taken:
        ids.setdefault(f"{mail['subject']} {mail['to']}", set()).add(mail["message_id"])
    return [subject for subject, found in ids.items() if len(found) > 1 and "Not delivered" not in subject]


def _damage(stage: Stage) -> list[str]:
    """What SQLite's own check finds."""
    if stage.sqlite_file is None:
        return []
    found = sqlite3.connect(stage.sqlite_file, timeout=60).execute("PRAGMA integrity_check").fetchall()
    return [row[0] for row in found if row[0] != "ok"]
