"""The seal: RFC 9180's own figures, another implementation, and the rotation of the keys."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from safety.models import SealKey
from safety.services.phone.keys import (
    open_wire,
    public_keys,
    seal_key_current,
    seal_keys_rotate,
    seal_open,
    text_of,
)
from tests.safety.phone.phones import seal

# RFC 9180, appendix A.3.1 (base mode, P-256, HKDF-SHA256, AES-128-GCM), sequence number 0.
INFO = bytes.fromhex("4f6465206f6e2061204772656369616e2055726e")
RECIPIENT = 0xF3CE7FDAE57E1A310D87F1EBBDE6F328BE0A99CDBCADF4D6589CF29DE4B8FFD2
ENC = bytes.fromhex(
    "04a92719c6195d5085104f469a8b9814d5838ff72b60501e2c4466e5e67b325ac9"
    "8536d7b61a1af4b78e5b7f951c0900be863c403ce65c9bfcb9382657222d18c4"
)
KEY = bytes.fromhex("868c066ef58aae6dc589b6cfdd18f97e")
BASE_NONCE = bytes.fromhex("4e0bc5018beba4bf004cca59")
PLAIN = bytes.fromhex("4265617574792069732074727574682c20747275746820626561757479")
AAD = bytes.fromhex("436f756e742d30")
SEALED = bytes.fromhex(
    "5ad590bb8baa577f8619db35a36311226a896e7342a6d836d8b7bcd2f20b6c7f9076ac232e3ab2523f39513434"
)


def test_the_service_derives_the_rfcs_key_and_nonce_from_the_rfcs_private_key_and_enc() -> None:
    """The vectors bind additional data and our messages bind none, so the RFC's key and nonce seal its text anew."""
    assert AESGCM(KEY).encrypt(BASE_NONCE, PLAIN, AAD) == SEALED
    private = ec.derive_private_key(RECIPIENT, ec.SECP256R1())
    wire = ENC + AESGCM(KEY).encrypt(BASE_NONCE, PLAIN, b"")
    assert open_wire(wire, private, INFO) == PLAIN
    with pytest.raises(InvalidTag):
        open_wire(wire, private, INFO + b"!")
    with pytest.raises(InvalidTag):
        open_wire(ENC + SEALED, private, INFO)


@pytest.mark.django_db
def test_what_another_implementation_seals_opens_under_its_own_message_key_alone(now: datetime) -> None:
    key, current = uuid.uuid4(), seal_key_current(now=now)
    sealed = seal(current.public, key, b"hello")
    assert seal_open(key_id=current.key_id, sealed=sealed, key=key) == b"hello"
    assert seal_open(key_id=current.key_id, sealed=sealed, key=uuid.uuid4()) is None
    for broken in (sealed[:-2] + "AA", sealed[:40], "", "ü", "*", text_of(b"\4" + bytes(80))):
        assert seal_open(key_id=current.key_id, sealed=broken, key=key) is None
    assert seal_open(key_id="unknown", sealed=sealed, key=key) is None


@pytest.mark.django_db
def test_a_key_serves_thirty_days_and_opens_for_a_year_more(now: datetime) -> None:
    first, key = seal_key_current(now=now), uuid.uuid4()
    sealed = seal(first.public, key, b"from the drawer")
    seal_keys_rotate(now=now + timedelta(days=30) - timedelta(seconds=1))
    assert SealKey.objects.count() == 1
    retired = now + timedelta(days=30)
    seal_keys_rotate(now=retired)
    seal_keys_rotate(now=retired)
    assert [row.key_id for row in SealKey.objects.filter(retired_at=retired)] == [first.key_id]
    assert public_keys(now=retired)[0].key_id != first.key_id
    for days, opens in ((364, True), (365, True), (366, False)):
        seal_keys_rotate(now=retired + timedelta(days=days))
        assert (seal_open(key_id=first.key_id, sealed=sealed, key=key) is not None) is opens


@pytest.mark.django_db
def test_a_key_that_a_new_secret_key_cannot_open_is_replaced_at_once(
    now: datetime, settings: Any, caplog: pytest.LogCaptureFixture
) -> None:
    lost = seal_key_current(now=now)
    assert "PRIVATE KEY" in lost.private and "ENCRYPTED" in lost.private
    settings.SECRET_KEY = "another key of more than fifty characters, made up for this test"
    seal_keys_rotate(now=now)
    assert seal_key_current(now=now).key_id != lost.key_id and lost.key_id in caplog.text
    seal_keys_rotate(now=now)
    assert SealKey.objects.count() == 2
