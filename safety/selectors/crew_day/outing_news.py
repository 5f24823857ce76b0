"""What people on an outing haven't been told yet: that they are off it, that it is called off, that it has another date,
that it starts or meets elsewhere, that they are on it again.

Somebody an officer takes off by hand is told only if the outing was within three days then, or if they knew of it:
their calendar showed it or a mail named it. So nobody who is put on and taken off while an outing far ahead is
planned gets mail about it. By rule, by a move or by a cancellation, everybody is told. A new date is told to who knows
another one; moved back before it was said, nothing is sent. Mail and calendar say the hour, never the place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet

from safety.models import FeedEntry, Notice
from safety.selectors.crew_day.outing_known import dates_known, last_mails, pair
from staff.models import Assignment, Outing, OutingChange, OutingMove, Withdrawal
from staff.rules.outing.outing_details import gone_by

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


@dataclass(frozen=True)
class OffFor:
    """Somebody who is off an outing, and the date by which they know it."""

    withdrawal: Withdrawal
    known: date


def off_untold(now: datetime) -> list[OffFor]:
    """Whose last withdrawal from an outing is to be told and hasn't been, unless they are on it again."""
    told = Notice.objects.filter(withdrawal=OuterRef("pk"), says=Notice.Says.OFF)
    rows = withdrawals_fresh(now).filter(_stands(), ~Exists(told))
    return list(_worth_telling(list(rows)))


def _stands() -> Q:
    """A withdrawal that is the last one of its person from its outing, which they aren't on again."""
    own = {"outing": OuterRef("outing"), "person": OuterRef("person")}
    later = Withdrawal.objects.filter(pk__gt=OuterRef("pk"), **own)
    return ~Exists(later) & ~Exists(Assignment.objects.filter(**own))


def _worth_telling(found: list[Withdrawal]) -> Iterable[OffFor]:
    knew = _who_knew([row for row in found if not row.by_rule])
    known = dates_known(found, last_mails(found))
    for row in found:
        off = OffFor(row, known[pair(row)])
        # Near by what they know: moved far ahead untold, they would else go out on the old date.
        near = min(off.known, row.outing.date) - row.outing.site.local_date(row.withdrawn_at) <= SOON
        if row.by_rule or near or pair(row) in knew:
            yield off


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
        outing__in=things.values(), person__in=people, says__in=Notice.Says.values, state=Notice.State.SENT
    )
    return knew | set(mails.values_list("outing_id", "person_id"))


def still_off(withdrawal: Withdrawal) -> bool:
    return Withdrawal.objects.filter(_stands(), pk=withdrawal.pk).exists()


def by_cancelling(withdrawal: Withdrawal) -> bool:
    return withdrawal.by_rule and withdrawal.outing.cancelled_at == withdrawal.withdrawn_at


def cancelled_untold(now: datetime) -> QuerySet[Outing]:
    """Cancelled outings that had people on them, of which the officers haven't been written to."""
    told = Notice.objects.filter(outing=OuterRef("pk"), says=Notice.Says.OFF, person__isnull=True)
    crewed = Withdrawal.objects.filter(
        outing=OuterRef("pk"), by_rule=True, withdrawn_at=OuterRef("cancelled_at")
    )
    return Outing.objects.filter(
        Exists(crewed), ~Exists(told), cancelled_at__gte=now - FRESH, date__gte=now.date() - BACK
    ).select_related("site__rules")


@dataclass(frozen=True)
class NewsFor:
    """Somebody on an outing who knows it by `known`, and by `off`, the last mail, believes to be off it; or who knows the
    date and not what was `changed`."""

    assignment: Assignment
    known: date
    off: Notice | None
    changed: OutingChange | None

    @property
    def move_id(self) -> int:
        return max((move.pk for move in self.assignment.outing.moves.all()), default=0)


def on_unknown(now: datetime, of: Notice | None = None) -> list[NewsFor]:
    """People on coming outings who know another date or were told to be off; with `of`, the one person of that notice."""
    mailed_off = Notice.objects.filter(
        outing=OuterRef("outing"), person=OuterRef("person"), says=Notice.Says.OFF, state=Notice.State.SENT
    )
    moved = OutingMove.objects.filter(outing=OuterRef("outing"))
    changed = OutingChange.objects.filter(outing=OuterRef("outing"))
    rows = Assignment.objects.filter(
        Exists(moved) | Exists(changed) | Exists(mailed_off),
        outing__cancelled_at__isnull=True,
        outing__date__gte=now.date() - BACK,
    )
    if of is not None:
        rows = rows.filter(outing=of.outing_id, person=of.person_id)
    rows = rows.select_related("outing__site__rules", "person__user")
    rows = rows.prefetch_related("outing__moves", "outing__changes")
    return list(_who_thinks_otherwise(list(rows.order_by("pk"))))


def _who_thinks_otherwise(rows: list[Assignment]) -> Iterable[NewsFor]:
    mails = last_mails(rows)
    known = dates_known(rows, mails)
    for row in rows:
        mail = mails.get(pair(row))
        off = mail if mail and mail.says == Notice.Says.OFF else None
        changed = _changed_since(row, mail)
        if off or changed or known[pair(row)] != row.outing.date:
            yield NewsFor(row, known[pair(row)], off, changed)


def _changed_since(row: Assignment, mail: Notice | None) -> OutingChange | None:
    """The last change, if by it hour or place are others than when they were put on or last written to."""
    since = max(row.assigned_at, mail.created_at) if mail else row.assigned_at
    changes = sorted(row.outing.changes.all(), key=lambda change: change.pk)
    unheard = [change for change in changes if change.changed_at > since]
    same = not unheard or gone_by(unheard[0].details) == gone_by(row.outing.details)
    return None if same else changes[-1]
