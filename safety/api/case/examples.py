"""Requests and answers shown in the schema. Invented people and places; a test checks them against the doors."""

from __future__ import annotations

from typing import Any

CAUTION = (
    "Local health authorities and clinicians decide treatment; this program keeps dates and reminds; "
    "never wait for it."
)

INCIDENT_ASKED: dict[str, Any] = {
    "person": 7,
    "kind": "bite",
    "happened_at": "2026-03-02T08:40:00+03:00",
    "animal": "dog-roaming",
    "task": "collaring",
    "causes": ["hand-near-mouth"],
    "wounds": [{"contact": "bitten", "body_site": "hand", "broke_skin": "yes", "bled": "yes"}],
    "washed_minutes": 15,
    "soap": "yes",
}
INCIDENT: dict[str, Any] = {
    "id": 4,
    "key": "0f8fad5b-d9cb-469f-a165-70867728950e",
    "reference": "K7P2QX",
    "site": "hillside",
    "person": 7,
    "kind": "bite",
    "happened_at": "2026-03-02T05:40:00Z",
    "reported_at": "2026-03-02T06:00:00Z",
    "path": "/cases/K7P2QX/",
    "needs": [
        {
            "code": "referral",
            "words": "Refer to a clinic: it is to be reached the same day.",
            "due_on": "2026-03-02",
            "late": False,
        },
        {
            "code": "visit",
            "words": "No clinic visit is recorded yet.",
            "due_on": "2026-03-02",
            "late": False,
        },
    ],
    "next_steps": [
        {
            "code": "referral",
            "words": "Refer to a clinic: it is to be reached the same day.",
            "due_on": "2026-03-02",
            "overdue": False,
        },
        {
            "code": "visit",
            "words": "No clinic visit is recorded yet.",
            "due_on": "2026-03-02",
            "overdue": False,
        },
    ],
    "authority": "Health office of the test",
    "emergency_number": "+44 1632 960 001",
    "caution": CAUTION,
}

WASHING_ASKED: dict[str, Any] = {
    "started_at": "2026-03-02T08:42:00+03:00",
    "stopped_at": "2026-03-02T08:57:00+03:00",
    "soap": "yes",
}
WASHING: dict[str, Any] = {
    "incident": 4,
    "state": "reached",
    "seconds": 900,
    "short_seconds": 0,
    "target_seconds": 900,
    "soap": "yes",
}

REFERRAL_ASKED: dict[str, Any] = {"clinic": 2}
REFERRAL: dict[str, Any] = {
    "id": 6,
    "incident": 4,
    "clinic": 2,
    "referred_at": "2026-03-02T06:00:00Z",
}

VISIT_ASKED: dict[str, Any] = {
    "clinic": 2,
    "visited_on": "2026-03-02",
    "decision": "course",
    "immunoglobulin": "no",
}
VISIT: dict[str, Any] = {
    "id": 8,
    "incident": 4,
    "clinic": 2,
    "visited_on": "2026-03-02",
    "clinician": "",
    "decision": "course",
    "immunoglobulin": "no",
    "immunoglobulin_on": None,
    "immunoglobulin_amount": "",
    "note": "",
}

COURSE_ASKED: dict[str, Any] = {"regimen": "pep-immunised-im-0-3", "starts_on": "2026-03-02"}
COURSE: dict[str, Any] = {
    "id": 5,
    "incident": 4,
    "regimen": "pep-immunised-im-0-3",
    "version": 1,
    "regimen_name": "Immunised before: days 0 and 3 (IM)",
    "late_rule": "keep-gaps",
    "starts_on": "2026-03-02",
    "ended_on": None,
    "steps": [],
}

DOSE_ASKED: dict[str, Any] = {"given_on": "2026-03-02", "route": "IM", "batch": "B-17"}
DOSE: dict[str, Any] = {
    "id": 31,
    "course": 5,
    "given_on": "2026-03-02",
    "route": "IM",
    "injections": None,
    "product": "",
    "batch": "B-17",
    "place": "",
}

NOTICE: dict[str, Any] = {
    "id": 44,
    "site": "hillside",
    "reference": "K7P2QX",
    "kind": "day-before",
    "when_on": "2026-03-05",
    "audience": "liaison",
    "email": "liaison@example.org",
    "state": "waiting",
    "due_at": "2026-03-04T04:00:00Z",
    "attempts": 0,
    "last_error": "",
    "settled_at": None,
}
