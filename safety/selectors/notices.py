"""Reading the outbox."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Min, QuerySet
from django.db.models.functions import Greatest

from safety.models import MailboxMessage, Notice
from staff.models import User
from staff.selectors.access import LIAISON, OFFICER, sites_as


def notices_visible_to(user: User) -> QuerySet[Notice]:
    """Notices of the sites as officer or liaison."""
    return Notice.objects.filter(site__in=sites_as(user, OFFICER, LIAISON)).select_related(
        "site", "user", "person", "incident"
    )


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
