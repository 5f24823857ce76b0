"""A crew that left without something: told to the officers, at once."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext_lazy as _

from safety.models import Departure, Notice
from safety.notices.rows import by_key, new_notice
from safety.registry import Counted, Differing, NoticeKind, Origin
from safety.rules.notices.references import Letter, reference
from safety.selectors.crew_day.outing_day import absent_of, missing_of
from safety.selectors.notices.recipients import Recipient, holders
from staff.models import SiteRole

# Readers who join later learn of it from the outing's page; a restored database writes nothing about last week.
FRESH = timedelta(days=1)


def _subjects(now: datetime) -> QuerySet[Departure]:
    """With them readers an absence or a new address has put in the place of others."""
    fresh = Departure.objects.filter(recorded_at__gt=now - FRESH).exclude(missing_reason="")
    return fresh.select_related("crew__outing__site__rules").prefetch_related("people__person")


def _wanted(departure: Departure, now: datetime) -> dict[str, Notice]:
    """A departure that was voided meanwhile needs nobody."""
    stands = Departure.objects.filter(pk=departure.pk).exists()
    if not stands or not missing_of(departure, absent_of(departure)):
        return {}
    readers = holders(departure.crew.outing.site, SiteRole.Role.OFFICER, now)
    return by_key(_row(departure, reader, now) for reader in readers)


def _row(departure: Departure, reader: Recipient, now: datetime) -> Notice:
    outing = departure.crew.outing
    return new_notice(
        key=f"left-{departure.pk}:{reader.mark}",
        kind=LEFT_WITHOUT.name,
        site=outing.site,
        reader=reader,
        send_on=departure.date,
        hour=0,
        when_on=departure.date,
        reference=reference(Letter.DEPARTURE, departure.pk),
        path=f"/outings/{outing.pk}/",
        audience="officer",
        now=now,
        outing=outing,
        departure=departure,
    )


def _standing(departure: Departure, _now: datetime) -> QuerySet[Notice]:
    return Notice.objects.filter(departure=departure, kind=LEFT_WITHOUT.name)


def _differences() -> Iterable[Differing]:
    """Crews that left without something about which nobody was written to, and notices of those that were voided."""
    ours = Notice.objects.filter(kind=LEFT_WITHOUT.name)
    without = Departure.objects.exclude(missing_reason="")
    for departure in without.filter(~Exists(ours.filter(departure=OuterRef("pk")))):
        yield f"departure {departure.pk}", "nobody told", "told to the officers"
    stands = without.filter(pk=OuterRef("departure"))
    for notice in ours.filter(~Exists(stands), state=Notice.State.WAITING):
        yield f"notice {notice.pk}", "waiting", "none: nobody left without anything"


DEPARTURES = Origin(
    name="notices of crews that left without something",
    subjects=_subjects,
    subject_of=lambda notice: notice.departure,
    wanted=_wanted,
    standing=_standing,
    differences=_differences,
)
LEFT_WITHOUT = NoticeKind(
    name="left-without",
    word=_("a crew left without something"),
    template="left_without",
    origin=DEPARTURES,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (LEFT_WITHOUT,)
