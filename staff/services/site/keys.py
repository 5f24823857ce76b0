"""API keys of an account. The key itself is told once; what is stored is its digest."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _
from knox.models import AuthToken

from staff.ground.errors import Conflict
from staff.models import User
from staff.services.audit import audit_write
from staff.services.site.accounts import key_noted
from staff.services.site.passwords import password_confirm

KEYS_AT_ONCE = 10


def key_create(*, user: User, password: str, now: datetime) -> str:
    """A new key for `user`, who gives the password again, as `password_confirm` asks. Raises `Conflict` at ten keys."""
    password_confirm(user=user, password=password, now=now)
    return key_issue(user=user, actor=user, now=now)


def key_issue(*, user: User, actor: User | None, now: datetime) -> str:
    """A new key for `user`, made by the administrator's command when there is no actor. Raises `Conflict` at ten keys."""
    with transaction.atomic():
        if AuthToken.objects.filter(user=user).count() >= KEYS_AT_ONCE:
            raise Conflict(_("Ten keys are the most; revoke one first."), code="too-many-keys")
        row, key = AuthToken.objects.create(user=user)
        if actor is None:
            key_noted(account=user, now=now)
        audit_write(
            actor=actor, action="key.created", now=now, target=f"key:{row.token_key}", account=user.username
        )
    return str(key)


def key_revoke(*, user: User, token_key: str, now: datetime) -> None:
    """End one of the user's own keys, named by its first letters. Raises `Conflict` when there is none."""
    with transaction.atomic():
        gone, _rows = AuthToken.objects.filter(user=user, token_key=token_key).delete()
        if not gone:
            raise Conflict(_("This key is revoked already."), code="key-revoked")
        audit_write(actor=user, action="key.revoked", now=now, target=f"key:{token_key}")
