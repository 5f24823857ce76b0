"""What people on an outing haven't been told yet: that they are off it, that it is called off, that it has another date.

Somebody an officer takes off by hand is told only if the outing was within three days then, or if they knew of it:
their calendar showed it or a mail named it. So nobody who is put on and taken off while an outing far ahead is
planned gets mail about it. By rule, by a move or by a cancellation, everybody is told.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from safety.models import FeedEntry, Notice
from staff.models import Assignment, Outing, Withdrawal

ROSTER_OFF, OUTING_OFF, OUTING_MOVED = "roster-off", "outing-off", "outing-moved"
PEOPLE_KINDS = frozenset({ROSTER_OFF, OUTING_OFF, OUTING_MOVED})
# Somewhere it is still yesterday by UTC.
BACK = timedelta(days=1)
# News older than this was told or has been dealt with; a restored database doesn't write about last month.
FRESH = timedelta(days=7)
SOON = timedelta(days=3)


def outing_name(outing_id: int) -> str:
    """The `thing` of a calendar feed that is this outing."""
    return f"outing:{outing_id}"


def withdrawals_fresh(now: datetime) -> QuerySet[Withdrawal]:
    """Of the last days and from outings that may still lie ahead; with everything a notice needs."""
    rows = Withdrawal.objects.filter(withdrawn_at__gte=now - FRESH, outing__date__gte=now.date() - BACK)
    return (
        rows.select_related("outing__site__rules", "person__user")
        .prefetch_related("outing__moves")
        .order_by("pk")
    )


def off_untold(now: datetime) -> list[Withdrawal]:
    """Withdrawals whose person is to be told and hasn't been written to."""
    told = Notice.objects.filter(withdrawal=OuterRef("pk"), kind__in=(ROSTER_OFF, OUTING_OFF))
    return list(_worth_telling(withdrawals_fresh(now).filter(~Exists(told))))


def _worth_telling(rows: QuerySet[Withdrawal]) -> Iterable[Withdrawal]:
    again = Assignment.objects.filter(outing=OuterRef("outing"), person=OuterRef("person"))
    found = list(rows.filter(~Exists(again)))
    knew = _who_knew([row for row in found if not row.by_rule])
    for row in found:
        site = row.outing.site
        near = date_at(row) - site.local_date(row.withdrawn_at) <= SOON
        if row.by_rule or near or (row.outing_id, row.person_id) in knew:
            yield row


def _who_knew(rows: Iterable[Withdrawal]) -> set[tuple[int, int]]:
    """Outing and person of those whose calendar showed the outing or who got a mail about it."""
    wanted = list(rows)
    if not wanted:
        return set()
    things = {outing_name(row.outing_id): row.outing_id for row in wanted}
    people = {row.person_id for row in wanted}
    accounts = {row.person.user_id: row.person_id for row in wanted if row.person.user_id is not None}
    entries = FeedEntry.objects.filter(thing__in=things).filter(
        Q(feed__person__in=people) | Q(feed__user__in=accounts)
    )
    knew = {
        (things[thing], person or accounts[user])
        for thing, person, user in entries.values_list("thing", "feed__person", "feed__user")
        if person or user in accounts
    }
    mails = Notice.objects.filter(
        outing__in=things.values(), person__in=people, kind__in=PEOPLE_KINDS, state=Notice.State.SENT
    )
    return knew | set(mails.values_list("outing_id", "person_id"))


def still_off(withdrawal: Withdrawal) -> bool:
    return not Assignment.objects.filter(outing=withdrawal.outing_id, person=withdrawal.person_id).exists()


def date_at(withdrawal: Withdrawal) -> date:
    """The outing's date as the person knew it: of before a move that took them off or came later."""
    since = [row for row in withdrawal.outing.moves.all() if row.moved_at >= withdrawal.withdrawn_at]
    return min(since, key=lambda row: row.pk).old_date if since else withdrawal.outing.date


def by_cancelling(withdrawal: Withdrawal) -> bool:
    return withdrawal.by_rule and withdrawal.outing.cancelled_at == withdrawal.withdrawn_at


def cancelled_untold(now: datetime) -> QuerySet[Outing]:
    """Cancelled outings that had people on them, of which the officers haven't been written to."""
    told = Notice.objects.filter(outing=OuterRef("pk"), kind=OUTING_OFF, person__isnull=True)
    crewed = Withdrawal.objects.filter(
        outing=OuterRef("pk"), by_rule=True, withdrawn_at=OuterRef("cancelled_at")
    )
    return Outing.objects.filter(
        Exists(crewed), ~Exists(told), cancelled_at__gte=now - FRESH, date__gte=now.date() - BACK
    ).select_related("site__rules")


@dataclass(frozen=True)
class MovedFor:
    """Somebody on an outing who knows it by `known`, another date than it has now, since the move `move_id`."""

    assignment: Assignment
    known: date
    move_id: int


def moved_unknown(now: datetime, of: Notice | None = None) -> list[MovedFor]:
    """People on coming outings that were moved after they were put on; with `of`, the one person of that notice."""
    rows = Assignment.objects.filter(
        outing__cancelled_at__isnull=True,
        outing__date__gte=now.date() - BACK,
        outing__moves__moved_at__gt=F("assigned_at"),
    )
    if of is not None:
        rows = rows.filter(outing=of.outing_id, person=of.person_id)
    rows = rows.select_related("outing__site__rules", "person__user").prefetch_related("outing__moves")
    return list(_who_thinks_otherwise(list(rows.distinct().order_by("pk"))))


def _who_thinks_otherwise(rows: list[Assignment]) -> Iterable[MovedFor]:
    told = Notice.objects.filter(
        kind=OUTING_MOVED, state=Notice.State.SENT, outing__in={row.outing_id for row in rows}
    )
    mails = list(told.order_by("pk")) if rows else []
    for row in rows:
        moves = [move for move in row.outing.moves.all() if move.moved_at > row.assigned_at]
        own = (row.outing_id, row.person_id)
        said = [
            mail.when_on
            for mail in mails
            if (mail.outing_id, mail.person_id) == own and mail.created_at > row.assigned_at
        ]
        known = (said[-1] if said else None) or moves[0].old_date
        if known != row.outing.date:
            yield MovedFor(row, known, moves[-1].pk)


def known_before(notice: Notice) -> date | None:
    """The date by which its reader knew the outing; the key says it, for later mails change the answer."""
    found = re.match(r"outing-moved-\d+:(\d{4}-\d\d-\d\d):", notice.key)
    return date.fromisoformat(found[1]) if found else None
