"""By which date people know an outing: that of the last mail they got about it, else that of when they were put on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from safety.models import Notice
from staff.models import Assignment, OutingMove, Withdrawal

# Outing and person, by key.
Pair = tuple[int, int]


@dataclass(frozen=True)
class Stay:
    """Somebody was on an outing from `since` (None: nobody knows) to `until` (None: still)."""

    since: datetime | None
    until: datetime | None

    def spans(self, at: datetime) -> bool:
        return (self.since is None or self.since < at) and (self.until is None or at <= self.until)


def dates_known(rows: Sequence[Assignment | Withdrawal], mails: dict[Pair, Notice]) -> dict[Pair, date]:
    """By which date the person of each row knows its outing (with `moves` prefetched); `mails` are those of `last_mails`.

    Without a mail, the date of before the first move while they were on or later than they were taken off.
    """
    moved = [row for row in rows if pair(row) not in mails and row.outing.moves.all()]
    stays = _stays(moved) if moved else {}
    found = {}
    for row in rows:
        mail = mails.get(pair(row))
        found[pair(row)] = (mail and mail.when_on) or _unmailed(row, stays.get(pair(row), []))
    return found


def pair(row: Assignment | Withdrawal) -> Pair:
    return row.outing_id, row.person_id


def last_mails(rows: Iterable[Assignment | Withdrawal]) -> dict[Pair, Notice]:
    """The last mail that reached each row's person about its outing."""
    wanted = {pair(row) for row in rows}
    if not wanted:
        return {}
    sent = Notice.objects.filter(
        says__in=Notice.Says.values,
        state=Notice.State.SENT,
        outing__in={outing for outing, _person in wanted},
        person__in={person for _outing, person in wanted},
    )
    ordered = sorted(sent, key=lambda row: (row.settled_at or row.created_at, row.pk))
    return {
        (row.outing_id, row.person_id): row
        for row in ordered
        if row.outing_id is not None and row.person_id is not None
    }


def _unmailed(row: Assignment | Withdrawal, stays: list[Stay]) -> date:
    since_off = row.withdrawn_at if isinstance(row, Withdrawal) else None
    for move in sorted(row.outing.moves.all(), key=lambda move: move.pk):
        if any(stay.spans(move.moved_at) for stay in stays) or _later(move, since_off):
            return move.old_date
    return row.outing.date


def _later(move: OutingMove, since_off: datetime | None) -> bool:
    return since_off is not None and move.moved_at >= since_off


def _stays(rows: Sequence[Assignment | Withdrawal]) -> dict[Pair, list[Stay]]:
    pairs = {pair(row) for row in rows}
    outings = {row.outing_id for row in rows}
    people = {row.person_id for row in rows}
    found: dict[Pair, list[Stay]] = {one: [] for one in pairs}
    last: dict[Pair, datetime] = {}
    ended = Withdrawal.objects.filter(outing__in=outings, person__in=people).order_by("withdrawn_at", "pk")
    for outing, person, until, since in ended.values_list(
        "outing", "person", "withdrawn_at", "assignment__assigned_at"
    ):
        if (own := (outing, person)) not in pairs:
            continue
        # Withdrawals of before assignments stayed may have none. Without it, it began when the one before it
        # ended: rather told of a move than not.
        found[own].append(Stay(since or last.get(own), until))
        last[own] = until
    for row in rows:
        if isinstance(row, Assignment):
            found[pair(row)].append(Stay(row.assigned_at, None))
    return found
