"""Recomputing people in the background: marks first, then chunk by chunk.

Who is marked (`ClearancePending`) is refused by the roster's guards, so a recompute that stops half-way keeps
people off. Marks come from a change of a site's rules or approved regimens (`recompute_start`), which also
recomputes whoever is on a coming outing then and there, and from the triggers on the record
(staff.guards.record). `recompute_catch_up` takes them away.
"""

from __future__ import annotations

import logging
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Exists, OuterRef, Q

from staff.bell import ring
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import (
    Assignment,
    Clearance,
    ClearancePending,
    Person,
    RulesChange,
    Site,
    SiteRules,
    User,
    Withdrawal,
)
from staff.selectors.outing.on_crews import people_on
from staff.selectors.record.records import RegimenBook, with_facts
from staff.selectors.site.consequences import consequences
from staff.services.record.clearance import clearance_refresh_many, withdraw, withdrawal_reason

logger = logging.getLogger(__name__)

# People a transaction recomputes at most, so that nobody waits long for their locks.
CHUNK = 200


def rules_lock(site_id: int) -> SiteRules:
    """The site's rules as they are, locked before any person: changes of what a site asks for go one by one,
    and nobody joins the site while its people are being marked."""
    locked = SiteRules.objects.select_for_update(of=("self",), no_key=True).select_related("site")
    return locked.get(site=site_id)


def recompute_start(
    *,
    site: Site,
    changes: dict[str, dict[str, Any]],
    reason: str,
    actor: User,
    now: datetime,
    touched: bool,
) -> RulesChange:
    """Write the row of a change and, when clearance is `touched`, mark everybody of the site.

    Call it in the transaction of the change, after `rules_lock` and with what changed written already. Whoever
    is on a coming outing is recomputed at once; the rest is rung for.
    """
    people = _lock_site(site) if touched else []
    running = RulesChange.objects.filter(site=site, finished_at__isnull=True)
    earlier = list(running.values_list("pk", flat=True)) if touched else []
    RulesChange.objects.filter(pk__in=earlier).update(finished_at=now)
    change = RulesChange.objects.create(
        site=site,
        changes=changes,
        reason=within(reason, RulesChange, "reason"),
        by=actor,
        at=now,
        total=len(people),
        finished_at=None if touched else now,
    )
    RulesChange.objects.filter(pk__in=earlier).update(overtaken_by=change)
    if touched:
        ClearancePending.objects.filter(person__site=site).delete()
        ClearancePending.objects.bulk_create(
            (ClearancePending(person_id=pk, change=change) for pk in people), batch_size=2000
        )
        _refresh_rostered(change, now)
        if not _finish(site.pk, now):
            ring("staff.recompute")
        change.refresh_from_db(fields=["finished_at"])
    return change


def _lock_site(site: Site) -> list[int]:
    """Everybody of the site and their current clearances, locked in the order of staff.services.record.clearance.

    The roster's guard takes the clearance FOR SHARE: a row inserted past the services either commits before
    this and is seen by what follows, or waits and finds the marks.
    """
    people = Person.objects.filter(site=site).select_for_update(no_key=True).order_by("pk")
    keys = list(people.values_list("pk", flat=True))
    current = Clearance.objects.filter(person__site=site, superseded_on__isnull=True)
    for _key in current.select_for_update(of=("self",), no_key=True).order_by("pk").values_list("pk"):
        pass
    return keys


def _take_off(site_id: int, now: datetime) -> None:
    """End the places that don't rest on a clearance any more: those the preview of this change named."""
    site = Site.objects.select_related("rules").get(pk=site_id)
    losses = consequences(site, RegimenBook.for_sites([site]), site.local_date(now))
    places = Assignment.objects.filter(pk__in=[loss.assignment.pk for loss in losses]).order_by("pk")
    standing = set(places.select_for_update(of=("self",), no_key=True).values_list("pk", flat=True))
    for place, judged in ((loss.assignment, loss.judged) for loss in losses):
        if place.pk in standing:
            withdraw(place, reason=withdrawal_reason(place.person, judged, place.outing.date), now=now)


def _refresh_rostered(change: RulesChange, now: datetime) -> None:
    """Nobody stays on a coming outing on the strength of the old rules, not even until the next chunk."""
    today = change.site.local_date(now)
    waiting = people_on(outing__date__gte=today).filter(clearance_pending__change=change)
    rostered = list(waiting.values_list("pk", flat=True))
    _take_off(change.site_id, now)
    further = _refresh(rostered, change.site, now)
    if further:
        # Safer off than on, but two answers to one question.
        logger.error("Change %s took off %d more than it foresaw", change.pk, len(further))


def _refresh(keys: list[int], site: Site, now: datetime) -> list[Withdrawal]:
    """Recompute locked people; returns who was taken off.

    Their marks go before the record is read: one that comes after this stays.
    """
    ClearancePending.objects.filter(person__in=keys).delete()
    site = Site.objects.select_related("rules").get(pk=site.pk)
    people = list(with_facts(Person.objects.filter(pk__in=keys, site=site)).order_by("pk"))
    for person in people:
        # One site for all of them, as it is after the locks; a row of its own for each would be read for nothing.
        person.site = site
    return clearance_refresh_many(people=people, now=now, book=RegimenBook.for_sites([site]))


def _finish(site_id: int, now: datetime) -> bool:
    """Close the site's change nobody waits for any more; True when nobody does."""
    waiting = ClearancePending.objects.filter(person__site=site_id, change__isnull=False).exists()
    if not waiting:
        RulesChange.objects.filter(site=site_id, finished_at__isnull=True).update(finished_at=now)
    return not waiting


@retried
def recompute_next(*, site_id: int, now: datetime) -> int:
    """Recompute the next chunk of a site's marked people, in one transaction; returns how many.

    Two workers at once are harmless: whoever comes second finds its people's marks gone.
    """
    with transaction.atomic():
        marked = ClearancePending.objects.filter(person__site=site_id).order_by("person_id")
        some = list(marked.values_list("person_id", flat=True)[:CHUNK])
        _recompute(some, site_id, now)
        _finish(site_id, now)
    return len(some)


def _recompute(people: list[int], site_id: int, now: datetime) -> None:
    locked = Person.objects.filter(pk__in=people, site=site_id).select_for_update(no_key=True).order_by("pk")
    keys = list(locked.values_list("pk", flat=True))
    still = ClearancePending.objects.filter(person__in=keys).values_list("person_id", flat=True)
    _refresh(list(still), Site.objects.get(pk=site_id), now)


def recompute_catch_up(*, now: datetime, at_most: int | None = None) -> int:
    """Recompute everybody who still waits, or `at_most` chunks; returns how many people. Resumes what a
    worker left behind. One site that can't be recomputed stays closed and never stops the others."""
    people, chunks = 0, 0
    for site_id in _sites_behind():
        try:
            while at_most is None or chunks < at_most:
                done = recompute_next(site_id=site_id, now=now)
                people, chunks = people + done, chunks + 1
                if not done:
                    break
        except Exception:
            logger.exception("The marked people of site %s can't be recomputed", site_id)
    return people


def _sites_behind() -> list[int]:
    """Sites with somebody marked, or with a change that isn't noted as through."""
    marked = ClearancePending.objects.filter(person__site=OuterRef("pk"))
    running = RulesChange.objects.filter(site=OuterRef("pk"), finished_at__isnull=True)
    behind = Site.objects.filter(Q(Exists(marked)) | Q(Exists(running)))
    return list(behind.order_by("pk").values_list("pk", flat=True))
