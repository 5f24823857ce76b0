"""Requests and answers shown in the schema. Invented people and places; a test checks them against the doors."""

from __future__ import annotations

from typing import Any

REGIMEN: dict[str, Any] = {
    "code": "pep-immunised-im-0-3",
    "version": 1,
    "name": "Already immunised: two doses into the muscle on days 0 and 3",
    "purpose": "post-exposure-immunised",
    "routes": ["IM"],
    "for_whom": "immunised",
    "source": (
        "WHO position paper, WER 2018;93(16):201-220 (read in a secondary copy); "
        "CDC/ACIP, MMWR 2010;59(RR-2):1-9"
    ),
    "source_kind": "published",
    "state": "listed",
    "steps": [
        {"number": 1, "day": 0, "latest_day": 0, "smallest_gap": 0, "injections": 1, "later": False},
        {"number": 2, "day": 3, "latest_day": 3, "smallest_gap": 3, "injections": 1, "later": False},
    ],
    "approvals": [
        {
            "site": "hillside",
            "authority": "Health office of the example",
            "approved_on": "2025-01-01",
            "document": "letter 1",
        }
    ],
}

SCHEDULE_ASKED: dict[str, Any] = {
    "day_zero": "2026-03-02",
    "given": ["2026-03-02"],
    "late_rule": "keep-gaps",
}
SCHEDULE: dict[str, Any] = {
    "steps": [
        {
            "number": 1,
            "day": 0,
            "due_on": "2026-03-02",
            "latest_on": "2026-03-02",
            "given_on": "2026-03-02",
            "days_late": 0,
            "injections": 1,
        },
        {
            "number": 2,
            "day": 3,
            "due_on": "2026-03-05",
            "latest_on": "2026-03-05",
            "given_on": None,
            "days_late": 0,
            "injections": 1,
        },
    ],
    "complete_on": "2026-03-05",
}

SERIES_ASKED: dict[str, Any] = {"doses": [{"given_on": "2026-01-05", "route": "IM"}], "on": "2026-02-10"}
SERIES: dict[str, Any] = {
    "valid_doses": 1,
    "complete_on": None,
    "next": {
        "number": 2,
        "earliest_on": "2026-01-12",
        "due_on": "2026-01-12",
        "latest_on": "2026-01-12",
    },
    "doses": [{"given_on": "2026-01-05", "counts": True, "step": 1, "reason": None, "reason_code": None}],
}

CLEARANCE: dict[str, Any] = {
    "person": 7,
    "number": "12",
    "name": "Sample Member",
    "site": "hillside",
    "cleared": False,
    "reasons": [
        {
            "code": "series-incomplete",
            "words": (
                "The pre-exposure series isn't complete. 2 of 3 doses count. "
                "Dose 3: due March 9, 2026, counts from March 2, 2026."
            ),
        }
    ],
    "clear_from": "2026-03-02",
    "clear_from_words": (
        "Clear from March 2, 2026 at the earliest, once this is done: Dose 3 on March 2, 2026."
    ),
}

DETAILS: dict[str, Any] = {
    "start_time": "07:30",
    "meeting_place": "Gate of the lower market",
    "meeting_latitude": -1.2864,
    "meeting_longitude": 36.8172,
    "day_phone": "+44 1632 960 020",
    "note": "",
}
DETAILS_ASKED: dict[str, Any] = {"start_time": "07:30", "meeting_place": "Gate of the lower market"}

OUTING_ASKED: dict[str, Any] = {
    "site": "hillside",
    "date": "2026-03-05",
    "area": "Lower market",
    "method": "house-to-house",
    "dogs_expected": 120,
    "puppies_expected": 20,
    "riders": 2,
    "crews": 1,
    "details": DETAILS,
}
OUTING: dict[str, Any] = {
    "id": 3,
    "site": "hillside",
    "date": "2026-03-05",
    "area": "Lower market",
    "method": "house-to-house",
    "dogs_expected": 120,
    "puppies_expected": 20,
    "riders": 2,
    "cancelled": False,
    "details": DETAILS,
    "crews": [
        {
            "id": 5,
            "name": "Crew 1",
            "assignments": [{"id": 9, "person": 7, "name": "Sample Member", "role": "catcher"}],
        }
    ],
}

ASSIGNMENT_ASKED: dict[str, Any] = {"person": 7, "crew": 5, "role": "catcher"}
ASSIGNMENT: dict[str, Any] = {
    "id": 9,
    "outing": 3,
    "crew": 5,
    "person": 7,
    "name": "Sample Member",
    "role": "catcher",
    "clear_from": "2026-02-01",
    "clear_until": None,
}

KIT: dict[str, Any] = {
    "outing": 3,
    "crews": [
        {
            "id": 5,
            "name": "Crew 1",
            "complete": False,
            "items": [
                {
                    "item": "needles",
                    "words": "Needles",
                    "need": 100,
                    "count": 110,
                    "unit": "pieces",
                    "there": True,
                    "ticked_at": "2026-03-05T05:40:00Z",
                },
                {
                    "item": "water",
                    "words": "Water for washing wounds",
                    "need": 30,
                    "count": 30,
                    "unit": "litres",
                    "there": False,
                    "ticked_at": None,
                },
            ],
        }
    ],
}
