"""Several notices to one address at one hour in one mail. The engine makes it and fills it (safety.services.notices.digests)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from safety.models import Notice
from safety.registry import Counted, NoticeKind, Origin


def _subjects(_now: datetime) -> Iterable[Notice]:
    """None: it is made when the first that goes in it is claimed."""
    return ()


def _wanted(digest: Notice, _now: datetime) -> dict[str, Notice]:
    """It is wanted while anything goes in it."""
    return {digest.key: digest} if digest.members.filter(state=Notice.State.GATHERED).exists() else {}


GATHERED = Origin(
    name="mails for several notices",
    subjects=_subjects,
    subject_of=lambda notice: notice,
    wanted=_wanted,
    standing=None,
)
DIGEST = NoticeKind(
    name="digest",
    word=_("several notices in one mail"),
    template="digest",
    origin=GATHERED,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (DIGEST,)
