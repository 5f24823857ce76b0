"""The rows of the outbox made what the registry's origins want, and the question whether one is wanted still.

Which kinds there are stands in `safety.notices`; this knows none.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, TypeVar

from django.db import transaction

from safety.models import Notice
from safety.notices.rows import by_key
from safety.outbox.claims import retime
from safety.outbox.states import State, move
from safety.registry import Origin, kind_of, origins
from safety.selectors.notices.asked_once import asked_once
from staff.bell import ring
from staff.ground.transactions import retried

logger = logging.getLogger(__name__)
S = TypeVar("S")
# Keys looked up at once.
BATCH = 500


def notices_reconcile(*, now: datetime) -> None:
    """The tick's sweep: every origin and every subject of it. One that can't be read never stops the others."""
    with asked_once():
        for origin in origins():
            origin_reconcile(origin=origin, now=now)


def origin_reconcile(*, origin: Origin[Any], now: datetime) -> None:
    """The sweep of one origin."""
    try:
        for subject in origin.subjects(now):
            _bring_logged(origin, subject, now)
    except Exception:
        logger.exception("What %s are about can't be read", origin.name)


def _bring_logged(origin: Origin[Any], subject: Any, now: datetime) -> None:
    try:
        notices_bring(origin=origin, subject=subject, now=now)
    except Exception:
        # The key and not the words of it: those may name somebody.
        what = f"{type(subject).__name__} {getattr(subject, 'pk', '')}"
        logger.exception("The %s of %s can't be brought up to date", origin.name, what)


def notices_tell(*, origin: Origin[S], subject: S, now: datetime) -> None:
    """Write who is to be told now and ring for a worker; call it in the transaction that made it so."""
    if notices_bring(origin=origin, subject=subject, now=now):
        ring("safety.tick")


@retried
def notices_bring(*, origin: Origin[S], subject: S, now: datetime) -> bool:
    """Add, revive, withdraw and move until the rows are what `subject` wants; repeating changes nothing.

    True when it wants any.
    """
    wanted = origin.wanted(subject, now)
    with transaction.atomic():
        kept = by_key(origin.standing(subject, now)) if origin.standing else {}
        bring_up(wanted, kept | _stored([key for key in wanted if key not in kept]), now)
        for key, row in kept.items():
            if row.state == State.WAITING and key not in wanted:
                move(row, State.WITHDRAWN, now=now, why="no longer needed", settled_at=now)
            elif row.state == State.WAITING and _moved(row, wanted[key]):
                retime(row, **timing(wanted[key]))
    return bool(wanted)


def still_true(notice: Notice, now: datetime) -> bool:
    """Asked at the moment of sending: does the record still want this notice, for this reader?

    Raises UnknownKind.
    """
    origin = kind_of(notice).origin
    subject = origin.subject_of(notice)
    return subject is not None and notice.key in origin.wanted(subject, now)


def add_notices(rows: Iterable[Notice]) -> None:
    # The unique key makes two planners at once harmless.
    Notice.objects.bulk_create(rows, ignore_conflicts=True)


def bring_up(wanted: Mapping[str, Notice], standing: Mapping[str, Notice], now: datetime) -> None:
    """Add the wanted notices that don't stand yet and revive those that were withdrawn, all by key.

    Call inside a transaction.
    """
    add_notices([row for key, row in wanted.items() if key not in standing])
    for key, row in standing.items():
        if key in wanted and row.state == State.WITHDRAWN:
            again = {"settled_at": None, "digest": None, **timing(wanted[key])}
            move(row, State.WAITING, now=now, why="needed again", **again)


def timing(row: Notice) -> dict[str, Any]:
    """When a notice is due, as the site's hour and the zone data of today say."""
    return {name: getattr(row, name) for name in ("send_hour", "zone", "due_at", "next_try_at")}


def _stored(keys: list[str]) -> dict[str, Notice]:
    found: dict[str, Notice] = {}
    for start in range(0, len(keys), BATCH):
        found |= by_key(Notice.objects.filter(key__in=keys[start : start + BATCH]))
    return found


def _moved(row: Notice, wanted: Notice) -> bool:
    """The hour or zone is another now. What keeps its key over days keeps the day it was first planned for."""
    return row.send_on == wanted.send_on and (row.due_at, row.zone) != (wanted.due_at, wanted.zone)
