"""Outings of which owners and neighbours weren't told: to the officers on the day it is due, and the day after."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from safety import registry
from safety.models import Notice
from safety.notices.rows import Scope, by_key, new_notice, whole
from safety.registry import Counted, Differing, NoticeKind, Origin
from safety.rules.notices.follow_up import Audience
from safety.rules.notices.references import Letter, reference
from safety.selectors.notices.recipients import holders
from staff.models import Outing, SiteRole
from staff.rules.campaign.community import Reminder, reminders
from staff.selectors.campaign.community import dated_at, owners_told_of, with_community

# No site asks for more days ahead (SiteRules.community_days); a day more, for clocks differ.
AHEAD, BACK = timedelta(days=32), timedelta(days=1)


def _wanted(scope: Scope, now: datetime) -> dict[str, Notice]:
    """A handful of queries, whatever the number of outings."""
    if scope.of is not None:
        outings = Outing.objects.filter(notices=scope.of.pk)
    else:
        outings = Outing.objects.filter(date__gte=now.date() - BACK, date__lte=now.date() + AHEAD)
    rows = with_community(outings.filter(cancelled_at__isnull=True)).order_by("date", "pk")
    return by_key(row for outing in rows for row in _of_outing(outing, now))


def _of_outing(outing: Outing, now: datetime) -> Iterator[Notice]:
    site = outing.site
    today = site.local_date(now)
    if owners_told_of(outing, today).is_told:
        return
    wanted = reminders(
        outing_on=outing.date,
        days_before=site.rules.community_days,
        dated_on=site.local_date(dated_at(outing)),
        today=today,
    )
    if not wanted:
        return
    readers = holders(site, SiteRole.Role.OFFICER, now)
    for stage, send_on in wanted:
        for reader in readers:
            yield new_notice(
                key=f"community-{outing.pk}:{outing.date}:{stage}:{send_on}:{reader.mark}",
                kind=_OF[stage].name,
                site=site,
                reader=reader,
                send_on=send_on,
                when_on=outing.date,
                reference=reference(Letter.OUTING, outing.pk),
                path=f"/outings/{outing.pk}/",
                audience=Audience.OFFICER,
                now=now,
                outing=outing,
            )


def _ours() -> QuerySet[Notice]:
    return Notice.objects.filter(kind__in=registry.names_of(COMMUNITY))


def _standing(_scope: Scope, now: datetime) -> QuerySet[Notice]:
    """Nothing is left waiting for an outing that was cancelled, moved or told of."""
    return _ours().filter(Q(state=Notice.State.WAITING) | Q(outing__date__gte=now.date() - BACK))


def _differences() -> Iterable[Differing]:
    cancelled = _ours().filter(state=Notice.State.WAITING, outing__cancelled_at__isnull=False)
    for notice in cancelled:
        yield f"notice {notice.pk}", "waiting", "none: the outing is cancelled"


def _by_today(notice: Notice, _today: date) -> dict[str, Any]:
    return {"by_today": notice.kind == DUE.name}


COMMUNITY = Origin(
    name="notices of what the community wasn't told",
    subjects=whole,
    subject_of=Scope,
    wanted=_wanted,
    standing=_standing,
    differences=_differences,
)
# Officers of a large campaign get many at one hour.
DUE = NoticeKind(
    name="community-due",
    word=_("owners and neighbours are to be told of an outing today"),
    template="community",
    origin=COMMUNITY,
    asks=None,
    may_share=True,
    counted_as=Counted.ALONE,
    context=_by_today,
)
LATE = NoticeKind(
    name="community-late",
    word=_("owners and neighbours weren't told of an outing in time"),
    template="community",
    origin=COMMUNITY,
    asks=None,
    may_share=True,
    counted_as=Counted.ALONE,
    context=_by_today,
)
_OF = {Reminder.DUE: DUE, Reminder.LATE: LATE}
KINDS = (DUE, LATE)
