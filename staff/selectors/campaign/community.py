"""Whether owners and neighbours were told of an outing: what counts, and where that leaves it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Prefetch, QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from staff.models import CommunityNotice, Outing, OutingMove, User
from staff.rules.campaign.community import OwnersTold, Told, owners_told
from staff.selectors.access import outings_managed_by


@dataclass(frozen=True)
class CommunityState:
    """`told`: what is on record and counts, first day first. `other`: what was voided or told of another date."""

    owners: OwnersTold
    told: tuple[CommunityNotice, ...]
    other: tuple[CommunityNotice, ...]
    words: str

    @property
    def code(self) -> str:
        return self.owners.state.value


def with_community(outings: QuerySet[Outing]) -> QuerySet[Outing]:
    """Outings with what `community_state` reads, in a constant number of queries."""
    words = Prefetch("community_notices", _with_recorder(), to_attr="fetched_community_notices")
    return outings.select_related("site__rules").prefetch_related(words, "moves")


def _with_recorder() -> QuerySet[CommunityNotice]:
    return CommunityNotice.everything.select_related("recorded_by")


def _every_notice_of(outing: Outing) -> list[CommunityNotice]:
    """Voided ones too: those fetched by `with_community`, else read now."""
    fetched: list[CommunityNotice] | None = getattr(outing, "fetched_community_notices", None)
    return list(_with_recorder().filter(outing=outing)) if fetched is None else fetched


def last_move(outing: Outing) -> OutingMove | None:
    return max(outing.moves.all(), key=lambda row: row.pk, default=None)


def dated_at(outing: Outing) -> datetime:
    """When the outing got the date it has."""
    moved = last_move(outing)
    return moved.moved_at if moved else outing.created_at


def counts(row: CommunityNotice, moved: OutingMove | None) -> bool:
    """Whoever was told before the outing was moved knows the wrong date: that counts for nothing.

    A word recorded after it of the move's own day counts, for it is only taken with the word that it was the new date.
    """
    return row.voided_at is None and (moved is None or row.recorded_at > moved.moved_at)


def owners_told_of(outing: Outing, today: date) -> OwnersTold:
    moved = last_move(outing)
    return owners_told(
        outing_on=outing.date,
        days_before=outing.site.rules.community_days,
        told=[row.told_on for row in _every_notice_of(outing) if counts(row, moved)],
        today=today,
    )


def community_state(outing: Outing, today: date) -> CommunityState:
    """Told in time, told late, or not told and since when that is late, in words."""
    now_stands, moved = owners_told_of(outing, today), last_move(outing)
    rows = _every_notice_of(outing)
    return CommunityState(
        owners=now_stands,
        told=tuple(row for row in rows if counts(row, moved)),
        other=tuple(row for row in rows if not counts(row, moved)),
        words=_words(now_stands, outing),
    )


def _words(found: OwnersTold, outing: Outing) -> str:
    asked = outing.site.rules.community_days
    if found.told_on is not None:
        before = told_before(outing, found.told_on)
        return f"{before} {_asked(asked)}" if found.state is Told.LATE else before
    due = date_format(found.due_on)
    if found.state is Told.NOT_YET:
        return _("Tell them by %(day)s.") % {"day": due}
    if found.state is Told.DUE_TODAY:
        return _("Tell them today.")
    return _("That was due by %(day)s. Tell them now, or move the outing.") % {"day": due}


def told_before(outing: Outing, told_on: date) -> str:
    days = (outing.date - told_on).days
    if not days:
        return _("Told on the day itself.")
    return ngettext("Told %(days)d day before.", "Told %(days)d days before.", days) % {"days": days}


def _asked(days: int) -> str:
    return ngettext("%(days)d is asked.", "%(days)d are asked.", days) % {"days": days}


def community_notices_kept_by(user: User) -> QuerySet[CommunityNotice]:
    """Voided ones too: who voids one a second time is told so."""
    rows = CommunityNotice.everything.filter(outing__in=outings_managed_by(user))
    return rows.select_related("outing__site")
