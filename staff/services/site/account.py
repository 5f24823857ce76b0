"""What people set on their own account: password, language, clocks."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from staff.models import User
from staff.services.audit import audit_write


def password_change(*, user: User, password: str, now: datetime) -> None:
    """Keep a password that the form has checked; every other session of the account ends by it."""
    with transaction.atomic():
        user.set_password(password)
        user.save(update_fields=["password"])
        audit_write(actor=user, action="password.changed", now=now)


def language_set(*, user: User, language: str) -> None:
    user.language = language
    user.save(update_fields=["language"])


def clocks_set(*, user: User, time_zone: str, now: datetime) -> None:
    user.time_zone = time_zone
    with transaction.atomic():
        user.save(update_fields=["time_zone"])
        audit_write(actor=user, action="account.clocks", now=now, target=user.time_zone)
