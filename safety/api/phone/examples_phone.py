"""Requests and answers of the phone's doors, for the schema. Invented places; the code opens nothing."""

from __future__ import annotations

from typing import Any

from safety.api.case.examples import CAUTION

MESSAGE_ASKED: dict[str, Any] = {"key_id": "9f2c41d07be85a36", "sealed": "BGf3…"}
MESSAGE: dict[str, Any] = {"received": True, "reference": "K7Q2MN"}
KEY: dict[str, Any] = {
    "key_id": "9f2c41d07be85a36",
    "public": "BCp0Zx…",
    "until": "2027-04-01T06:00:00Z",
}
KEYS: dict[str, Any] = {"wash_minutes": 15, "keys": [KEY]}
CARD_ASKED: dict[str, Any] = {"link": "2345-6789-ABCD-EFGH-JKMN-PQRS-TUVW-XYZ2-34"}
CARD: dict[str, Any] = {
    "site": "Hillside",
    "zone": "Africa/Nairobi",
    "language": "en",
    "emergency_number": "+44 1632 960 001",
    "authority": "Health office of Hillside",
    "wash_minutes": 15,
    "travel_kmh": 30,
    "clinic_news_days": 7,
    "clinic_of_day_minutes": 10,
    "immunoglobulin_minutes": 30,
    "caution": CAUTION,
    "keys": [KEY],
    "clinics": [
        {
            "id": 3,
            "name": "Hillside Clinic",
            "phone": "+44 1632 960 101",
            "address": "Main road 1",
            "latitude": -1.29,
            "longitude": 36.82,
            "vaccine": "yes",
            "immunoglobulin": "unknown",
            "confirmed_on": "2026-03-01",
            "open": [["2026-03-02T05:00:00Z", "2026-03-02T14:00:00Z"]],
            "hours": "Mo-Fr 08:00-17:00",
        }
    ],
    "day": "2026-03-02",
    "clinic_of_the_day": 3,
    "offsets": [["2026-03-01T06:00:00Z", 180]],
    "open_until": "2026-03-16T06:00:00Z",
    "made_at": "2026-03-02T06:00:00Z",
}
