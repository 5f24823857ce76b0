"""A phone as the service sees it: seals with an independent implementation of RFC 9180 and posts."""

from __future__ import annotations

import json
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.test import Client
from pyhpke import AEADId, CipherSuite, KDFId, KEMId, KEMKey

from safety.services.phone.keys import bytes_of, text_of
from safety.services.phone.links import link_make
from staff.models import Person, User

MESSAGES = "/api/v1/phone/messages/"
SUITE = CipherSuite.new(KEMId.DHKEM_P256_HKDF_SHA256, KDFId.HKDF_SHA256, AEADId.AES128_GCM)
WOUND = {"contact": "bitten", "body_site": "hand", "broke_skin": "yes", "bled": "yes", "deep": "no"}


def seal(public: str, key: uuid.UUID, plaintext: bytes) -> str:
    point = bytes_of(public)
    jwk = {"kty": "EC", "crv": "P-256", "x": text_of(point[1:33]), "y": text_of(point[33:])}
    enc, sender = SUITE.create_sender_context(
        KEMKey.from_jwk(jwk), info=f"three-fifteen phone 1 {key}".encode()
    )
    return text_of(enc + sender.seal(plaintext))


@dataclass
class Message:
    key: uuid.UUID
    body: dict[str, str]


def public_key() -> dict[str, str]:
    found: dict[str, str] = Client().get("/api/v1/phone/keys/").json()["keys"][0]
    return found


def message(text: Any, key: uuid.UUID | None = None) -> Message:
    """Any JSON text, sealed to the service's current key."""
    key, current = key or uuid.uuid4(), public_key()
    sealed = seal(current["public"], key, json.dumps(text).encode())
    return Message(key, {"key_id": current["key_id"], "sealed": sealed})


def post(sent: Message) -> Any:
    return Client().post(
        MESSAGES, sent.body, content_type="application/json", headers={"Idempotency-Key": str(sent.key)}
    )


@dataclass
class Phone:
    """`code` is what the card says; `now` when its messages are written."""

    code: str
    now: datetime

    def text(self, kind: str, body: dict[str, Any], about: uuid.UUID, late: float = 0) -> dict[str, Any]:
        made_at = (self.now + timedelta(seconds=late)).isoformat()
        return {
            "v": 1,
            "link": self.code or None,
            "kind": kind,
            "about": str(about),
            "made_at": made_at,
            "body": body,
        }

    def send(self, kind: str, body: dict[str, Any], about: uuid.UUID, late: float = 0) -> Any:
        """`late`: seconds after `now` at which it was written."""
        answer = post(message(self.text(kind, body, about, late)))
        assert answer.status_code == 201, answer.content
        return answer.json()

    def report(self, about: uuid.UUID, late: float = 60, **changes: Any) -> Any:
        return self.send("report", self.bite(**changes), about, late)

    def bite(self, **changes: Any) -> dict[str, Any]:
        return {
            "person": None,
            "kind": "bite",
            "happened_at": (self.now - timedelta(minutes=5)).isoformat(),
            "wounds": [WOUND],
            "animal": "dog-roaming",
            "animal_facts": {"collar": "no", "signs": ["weak"], "can_be_watched": "no", "owner_known": "no"},
            "task": "collaring",
            "causes": ["bare-hands"],
            "others_hurt": "no",
            "narrative": "canary-phone",
            "washing": {"spells": [], "stated_not_washed": False, "antiseptic": "unknown"},
            "place": None,
            "complete": True,
            **changes,
        }

    def spell(self, start: float, stop: float | None = None, soap: str = "yes") -> dict[str, Any]:
        """From `start` to `stop`, in seconds after `now`."""
        at = [None if s is None else (self.now + timedelta(seconds=s)).isoformat() for s in (start, stop)]
        return {"started_at": at[0], "stopped_at": at[1], "soap": soap, "running_water": "yes"}


def phone_of(person: Person, by: User, now: datetime) -> Phone:
    return Phone(link_make(actor=by, person=person, now=now).code, now)
