"""The link by which a reader says that a notice was seen: signed, so that it needs no account and can't be guessed."""

from __future__ import annotations

from django.conf import settings
from django.core.signing import BadSignature, Signer

from safety.models import Notice
from safety.registry import asks

_SIGNER = Signer(salt="three-fifteen.notice-seen")


def seen_token(notice: Notice) -> str:
    return _SIGNER.sign(str(notice.pk))


def seen_link(notice: Notice) -> str:
    """Empty for a notice that asks for no word."""
    return f"{settings.PUBLIC_URL}/seen/{seen_token(notice)}/" if asks(notice.kind) else ""


def notice_of_token(token: str) -> Notice | None:
    """None for a token that isn't of this kind or names no notice that asks."""
    try:
        pk = int(_SIGNER.unsign(token))
    except (BadSignature, ValueError):
        return None
    notice = Notice.objects.select_related("site").filter(pk=pk).first()
    return notice if notice is not None and asks(notice.kind) else None
