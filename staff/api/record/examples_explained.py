"""The explained clearance as the schema shows it: an invented person two doses into a series."""

from __future__ import annotations

from typing import Any

EXPLAINED: dict[str, Any] = {
    "person": 7,
    "on": "2026-03-02",
    "cleared": False,
    "stored": False,
    "regimen": "prep-im-0-7-21@1",
    "doses": [
        {"given_on": "2026-02-10", "counts": True, "step": 1, "words": ""},
        {"given_on": "2026-02-17", "counts": True, "step": 2, "words": ""},
    ],
    "chain": [
        {
            "name": "series",
            "met": False,
            "binding": True,
            "since": None,
            "until": None,
            "codes": ["series-incomplete"],
            "words": [
                "The pre-exposure series isn't complete. 2 of 3 doses count. Dose 3: due March 3, 2026."
            ],
        }
    ],
    "actions": [
        {
            "kind": "dose",
            "number": 3,
            "earliest_on": "2026-03-03",
            "last_on": "2026-03-03",
            "words": "Dose 3 on March 3, 2026.",
        }
    ],
    "earliest_clear_on": "2026-03-03",
    "earliest_clear_words": (
        "Clear from March 3, 2026 at the earliest, once this is done: Dose 3 on March 3, 2026."
    ),
}
