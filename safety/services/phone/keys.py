"""The keys phones seal to (RFC 9180, base mode, DHKEM(P-256, HKDF-SHA256), HKDF-SHA256, AES-128-GCM).

What was sealed to a key stays readable here for a year after the key's retirement: a phone can lie in a drawer.
With a new SECRET_KEY what was sealed before can't be opened.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import logging
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hpke import AEAD, KDF, KEM, Suite
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)
from django.db import IntegrityError, transaction
from django.utils.crypto import salted_hmac

from safety.models import SealKey

logger = logging.getLogger(__name__)

SUITE = Suite(KEM.P256, KDF.HKDF_SHA256, AEAD.AES_128_GCM)
IN_USE = timedelta(days=30)
OPENS_FOR = timedelta(days=365)
# The encapsulated key: an uncompressed point (RFC 9180, section 7.1.1).
ENC_BYTES = 65


@dataclass(frozen=True)
class PublicKey:
    """What a phone needs of a key; `until` is the instant after which it must seal to a newer one."""

    key_id: str
    public: str
    until: datetime


def text_of(raw: bytes) -> str:
    """base64url without padding."""
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def bytes_of(text: str) -> bytes:
    """The bytes of base64url without padding; raises ValueError for anything else."""
    try:
        return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (binascii.Error, UnicodeEncodeError) as error:
        raise ValueError("no base64url") from error


def seal_info(key: uuid.UUID) -> bytes:
    """Binds what is sealed to the key of its message."""
    return f"three-fifteen phone 1 {key}".encode("ascii")


def _wrapping_password() -> bytes:
    return salted_hmac("three-fifteen seal keys", "private", algorithm="sha256").digest().hex().encode()


def _new_row(number: int, now: datetime) -> SealKey:
    private = ec.generate_private_key(ec.SECP256R1())
    point = private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    pem = private.private_bytes(
        Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(_wrapping_password())
    )
    return SealKey(
        number=number,
        key_id=hashlib.sha256(point).hexdigest()[:16],
        public=text_of(point),
        private=pem.decode(),
        made_at=now,
    )


def seal_key_current(*, now: datetime) -> SealKey:
    """The key to seal to; made when there is none or the newest is older than 30 days. Two at once make one key."""
    newest = SealKey.objects.order_by("-number").first()
    if newest is not None and newest.made_at > now - IN_USE:
        return newest
    return _make_after(newest.number if newest else 0, now)


def _make_after(last: int, now: datetime) -> SealKey:
    number = last + 1
    try:
        with transaction.atomic():
            row = _new_row(number, now)
            row.save(force_insert=True)
            SealKey.objects.filter(number__lt=number, retired_at__isnull=True).update(retired_at=now)
    except IntegrityError:
        # Another process made it meanwhile.
        return SealKey.objects.get(number=number)
    return row


def seal_keys_rotate(*, now: datetime) -> None:
    """Have a fresh key, and take those away that are retired for over a year. Harmless when repeated.

    A key that SECRET_KEY doesn't open any more is replaced at once: phones would seal to what nobody can read.
    """
    current = seal_key_current(now=now)
    if _private(current) is None:
        logger.error(
            "Seal key %s can't be opened with this SECRET_KEY; a new one takes over.", current.key_id
        )
        _make_after(current.number, now)
    SealKey.objects.filter(retired_at__lt=now - OPENS_FOR).delete()


def public_keys(*, now: datetime) -> list[PublicKey]:
    current = seal_key_current(now=now)
    return [PublicKey(current.key_id, current.public, current.made_at + IN_USE + OPENS_FOR)]


def seal_open(*, key_id: str, sealed: str, key: uuid.UUID) -> bytes | None:
    """The text that was sealed under the message's key, or None when it can't be opened here."""
    row = SealKey.objects.filter(key_id=key_id).first()
    if row is None:
        return None
    private = _private(row)
    try:
        wire = bytes_of(sealed)
        if private is None or len(wire) <= ENC_BYTES:
            return None
        return open_wire(wire, private, seal_info(key))
    except (ValueError, InvalidTag):
        return None


def _private(row: SealKey) -> ec.EllipticCurvePrivateKey | None:
    try:
        private = load_pem_private_key(row.private.encode(), _wrapping_password())
    except ValueError:
        return None
    return private if isinstance(private, ec.EllipticCurvePrivateKey) else None


def open_wire(wire: bytes, private: ec.EllipticCurvePrivateKey, info: bytes) -> bytes:
    """Open enc || ciphertext; raises InvalidTag or ValueError when it wasn't sealed to this key with this info."""
    return SUITE.decrypt(wire, private, info)
