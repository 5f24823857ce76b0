"""Reading the outbox."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Min, Q, QuerySet
from django.db.models.functions import Greatest

from safety.models import MailboxMessage, Notice
from staff.models import User
from staff.selectors.access import LIAISON, OFFICER, sites_as


def notices_visible_to(user: User) -> QuerySet[Notice]:
    """Notices of the sites as officer or liaison."""
    return Notice.objects.filter(site__in=sites_as(user, OFFICER, LIAISON)).select_related(
        "site", "user", "person", "incident"
    )


def notices_found(user: User, words: str) -> QuerySet[Notice]:
    """Visible notices whose reference, address or Message-ID has `words` in it, the last written first."""
    # PostgreSQL answers a NUL with an error of its own.
    asked = words.replace("\0", "").strip()
    if not asked:
        return notices_visible_to(user).none()
    named = Q(reference__icontains=asked) | Q(email__icontains=asked) | Q(message_id__icontains=asked)
    return notices_visible_to(user).filter(named).order_by("-pk")


def notices_after(user: User, notice: Notice) -> QuerySet[Notice]:
    """Visible notices that came of this one or went in its mail: somebody was told that it was refused or that nobody
    answered."""
    about = Q(refused=notice) | Q(about=notice) | Q(digest=notice)
    return notices_visible_to(user).filter(about).order_by("pk")


def notice_before(user: User, notice: Notice) -> Notice | None:
    """The visible notice this one came of, or in whose mail it went."""
    before = notice.digest_id or notice.refused_id or notice.about_id
    return notices_visible_to(user).filter(pk=before).first() if before is not None else None


def oldest_due_age(now: datetime) -> timedelta | None:
    """How long the oldest notice that is due has waited to leave; None when nothing waits that should be gone.

    A course recorded at noon writes notices for seven that morning: they wait since they were written.
    """
    unsent = [Notice.State.WAITING, Notice.State.CLAIMED, Notice.State.GATHERED]
    waiting = Notice.objects.filter(state__in=unsent, due_at__lte=now)
    oldest = waiting.aggregate(oldest=Min(Greatest("due_at", "created_at")))["oldest"]
    return now - oldest if oldest else None


def mailbox_messages() -> QuerySet[MailboxMessage]:
    """The mail of a demo, newest first."""
    return MailboxMessage.objects.all()
