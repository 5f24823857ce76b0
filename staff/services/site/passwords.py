"""The password of one's own account, asked again by somebody who is signed in."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from staff.ground.errors import Invalid, TooMany
from staff.models import User
from staff.services.site.guesses import guess_forgive, guess_key, guess_take, seconds_left
from staff.words import too_many_tries


def sign_in_key(username: str) -> str:
    """The counter of an account's password, whichever door it is tried at."""
    return guess_key("sign-in", username)


def password_confirm(*, user: User, password: str, now: datetime, field: str = "password") -> None:
    """Take a try of the account and compare. Raises `TooMany` when there is none left, `Invalid` on `field`.

    A session left open is no place to guess the password: these tries count with those of signing in.
    """
    key = sign_in_key(user.get_username())
    if not guess_take(key=key, now=now):
        left = seconds_left(key=key, now=now)
        raise TooMany(too_many_tries(left), retry_after=left)
    if not user.check_password(password):
        raise Invalid({field: _("That isn't your password.")})
    guess_forgive(key=key)
