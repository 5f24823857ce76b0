"""How a notice is written: one to one reader, once."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Generic, TypeVar
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from django.conf import settings

from safety.models import Notice
from safety.rules.notices.local_time import due_at
from safety.selectors.notices.recipients import Recipient
from staff.models import Site

S_co = TypeVar("S_co", covariant=True)


@dataclass(frozen=True)
class Told(Generic[S_co]):
    """What is told once, at once; with `row`, somebody who is told already: that stands while its reason does."""

    subject: S_co
    row: Notice | None = None


@dataclass(frozen=True)
class Scope:
    """All there is of a kind that is looked at together, or only what one notice needs."""

    of: Notice | None = None

    @property
    def pk(self) -> int | None:
        return self.of.pk if self.of else None


def whole(_now: datetime) -> Iterable[Scope]:
    """The subjects of what is looked at together."""
    return (Scope(),)


def by_key(rows: Iterable[Notice]) -> dict[str, Notice]:
    return {row.key: row for row in rows}


def new_notice(
    *, site: Site, reader: Recipient, send_on: date, now: datetime, hour: int | None = None, **fields: object
) -> Notice:
    """An unsaved notice, due at the site's hour (or `hour`) of `send_on`, by the reader's clocks.

    The first hour of a date that has come has passed: with `hour` 0 it is due as soon as it is written.
    """
    hour = site.rules.notice_hour if hour is None else hour
    zone = reader.clocks(site, local_date=send_on, hour=hour)
    when = due_at(local_date=send_on, hour=hour, zone=ZoneInfo(zone))
    return Notice(
        site=site,
        user=reader.user,
        person=reader.person,
        email=reader.email,
        language=reader.language,
        send_on=send_on,
        send_hour=hour,
        zone=zone,
        due_at=when,
        next_try_at=when,
        message_id=f"<{uuid.uuid4()}@{urlsplit(settings.PUBLIC_URL).hostname}>",
        created_at=now,
        **fields,
    )
