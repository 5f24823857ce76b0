"""How a row of the outbox is written: one notice to one reader, once."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from django.conf import settings

from safety.models import Notice
from safety.outbox.claims import retime
from safety.outbox.states import State, move
from safety.rules.local_time import due_at
from safety.selectors.recipients import Recipient
from staff.models import Site


def timing(row: Notice) -> dict[str, Any]:
    """When a notice is due, as the site's hour and the zone data of today say."""
    return {name: getattr(row, name) for name in ("send_hour", "zone", "due_at", "next_try_at")}


def new_notice(
    *, site: Site, reader: Recipient, send_on: date, now: datetime, hour: int | None = None, **fields: object
) -> Notice:
    """An unsaved notice, due at the site's hour (or `hour`) of `send_on`, by the reader's clocks."""
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


def add_notices(rows: list[Notice]) -> None:
    # The unique key makes two planners at once harmless.
    Notice.objects.bulk_create(rows, ignore_conflicts=True)


def bring_in_line(wanted: dict[str, Notice], standing: dict[str, Notice], now: datetime) -> None:
    """`bring_up`, and of those that wait: withdraw what isn't wanted, move the rest to the hour and zone of now.

    Call inside a transaction.
    """
    bring_up(wanted, standing, now)
    for key, row in standing.items():
        if row.state != State.WAITING:
            continue
        if key not in wanted:
            move(row, State.WITHDRAWN, now=now, why="no longer needed", settled_at=now)
        elif (row.due_at, row.zone) != (wanted[key].due_at, wanted[key].zone):
            retime(row, **timing(wanted[key]))


def bring_up(wanted: dict[str, Notice], standing: dict[str, Notice], now: datetime) -> None:
    """Add the wanted notices that don't stand yet and revive those that were withdrawn, all by key.

    Call inside a transaction.
    """
    add_notices([row for key, row in wanted.items() if key not in standing])
    for key, row in standing.items():
        if key in wanted and row.state == State.WITHDRAWN:
            move(
                row,
                State.WAITING,
                now=now,
                why="needed again",
                settled_at=None,
                digest=None,
                **timing(wanted[key]),
            )
