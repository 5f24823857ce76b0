"""The calendar feed: its link made, renewed and ended by the account itself, and its entries brought up to date.

They are brought up to date when somebody fetches them, under the feed's lock, and by nothing else: between two fetches
nobody sees them, so a sweep would only write rows nobody reads, and what is answered is never older than the record.
A cancelled entry's days count from the first answer that said so.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.views.decorators.debug import sensitive_variables

from safety.models import CalendarFeed, FeedEntry
from safety.selectors.notices.feed import KEPT, Dated, dates_of
from safety.services.notices.private_links import live_link, new_code
from staff.ground.transactions import retried
from staff.models import Person, User
from staff.services.audit import audit_write


@dataclass(frozen=True)
class MadeFeed:
    """A feed with its link's code, which nobody can read again; `renewed` says that one before it has ended."""

    feed: CalendarFeed
    code: str = field(repr=False)
    renewed: bool = False

    @property
    def address(self) -> str:
        return f"{settings.PUBLIC_URL}/calendar/{self.code}.ics"

    @property
    def webcal(self) -> str:
        """The same for programs that subscribe by that scheme."""
        return f"webcal:{self.address.partition(':')[2]}"


@retried
@sensitive_variables()
def feed_make(*, user: User, now: datetime, person: Person | None = None) -> MadeFeed:
    """A new link to the account's own dates, or to those of `person`; the one before it ends with this."""
    code = new_code()
    said = {"selector": code.selector, "secret_hash": code.digest, "made_at": now, "ended_at": None}
    with transaction.atomic():
        before = CalendarFeed.objects.select_for_update().filter(**_owner(user, person)).first()
        renewed = before is not None and before.ended_at is None
        feed, _made = CalendarFeed.objects.update_or_create(**_owner(user, person), defaults=said)
        _audit(user, feed, "renewed" if renewed else "made", now)
    return MadeFeed(feed, code.text, renewed=renewed)


def _owner(user: User, person: Person | None) -> dict[str, Any]:
    return {"user": user} if person is None else {"person": person}


def feed_end(*, user: User, now: datetime, person: Person | None = None) -> None:
    """End the link: whoever holds it reads nothing any more. Ending it twice changes nothing."""
    with transaction.atomic():
        live = CalendarFeed.objects.select_for_update().filter(ended_at__isnull=True)
        feed = live.filter(**_owner(user, person)).first()
        if feed is not None:
            feed.ended_at = now
            feed.save(update_fields=["ended_at"])
            _audit(user, feed, "ended", now)


@sensitive_variables()
def feed_opened(*, code: str, now: datetime) -> CalendarFeed | None:
    """The feed that `code` opens; None for any other, whatever the cause."""
    rows = CalendarFeed.objects.filter(Q(user__is_active=True) | Q(person__isnull=False))
    rows = rows.select_related("user", "person")
    return live_link(rows, code, kind="calendar-feed", now=now)


@retried
def feed_refresh(*, feed: CalendarFeed, now: datetime) -> list[FeedEntry]:
    """Bring the entries up to what the account may see now, and return those to show. Repeating changes nothing."""
    with transaction.atomic():
        held = (
            CalendarFeed.objects.select_for_update(of=("self",))
            .select_related("user", "person")
            .get(pk=feed.pk)
        )
        wanted = dates_of(held, now)
        standing = {row.thing: row for row in held.entries.all()}
        held.entries.filter(
            thing__in=standing.keys() - wanted.keys(),
            cancelled_at__isnull=True,
            starts_on__lt=now.date() - KEPT,
        ).delete()
        for row in standing.values():
            _follow(row, wanted.get(row.thing), now)
        FeedEntry.objects.bulk_create(
            [_new(held, one, now) for thing, one in wanted.items() if thing not in standing]
        )
        CalendarFeed.objects.filter(pk=held.pk).update(last_fetched_at=now)
        return [row for row in held.entries.all() if _shown(row, now)]


def _shown(row: FeedEntry, now: datetime) -> bool:
    return row.cancelled_at is None or now - row.cancelled_at <= KEPT


def _new(feed: CalendarFeed, one: Dated, now: datetime) -> FeedEntry:
    # RFC 7986, 5.3: a UUID, made of nothing that identifies somebody to those who can't compute it.
    uid = uuid.uuid5(feed.key, one.thing)
    return FeedEntry(feed=feed, thing=one.thing, uid=uid, changed_at=now, **_said(one))


def _said(one: Dated) -> dict[str, object]:
    return {
        "reference": one.reference,
        "path": one.path,
        "starts_on": one.starts_on,
        "starts_at": one.starts_at,
    }


def _follow(row: FeedEntry, one: Dated | None, now: datetime) -> None:
    """Change a row only where it says something else: each change raises SEQUENCE (RFC 5545, 3.8.7.4)."""
    if one is None:
        if row.cancelled_at is not None or row.starts_on < now.date() - KEPT:
            return
        row.cancelled_at = now
    else:
        said = _said(one)
        if row.cancelled_at is None and all(getattr(row, name) == value for name, value in said.items()):
            return
        for name, value in said.items():
            setattr(row, name, value)
        row.cancelled_at = None
    row.sequence += 1
    row.changed_at = now
    row.save()


def _audit(user: User, feed: CalendarFeed, what: str, now: datetime) -> None:
    audit_write(
        actor=user,
        action=f"calendar-feed.{what}",
        now=now,
        person=feed.person,
        target=f"calendar-feed:{feed.pk}",
    )
