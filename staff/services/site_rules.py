"""Changing a site's rules: the new figures hold at once, its people are recomputed in the background.

In the transaction of the change everybody of the site is marked as pending, and whoever is on a coming
outing is recomputed then and there. From its commit on, the roster's guard lets nobody onto an outing whose
clearance is older than the rules; `recompute_catch_up` takes the marks away, chunk by chunk.
"""

from __future__ import annotations

import logging
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from staff.bell import ring
from staff.errors import Invalid
from staff.models import Clearance, ClearancePending, Person, RulesChange, Site, SiteRules, User
from staff.selectors.records import RegimenBook, with_record
from staff.services.audit import audit_write
from staff.services.clearance import clearance_refresh_many, need_reason
from staff.services.transactions import retried

logger = logging.getLogger(__name__)

# People a transaction recomputes at most, so that nobody waits long for their locks.
CHUNK = 200
# Figures that clearance never reads. Any other field recomputes everybody: a new one is safe by default.
NOT_CLEARANCE = frozenset(
    {
        "hold_after_exposure",
        "travel_kmh",
        "wash_minutes",
        "observation_days",
        "late_rule",
        "restart_after_days",
        "notice_hour",
    }
)


@retried
def site_rules_change(
    *, actor: User, rules: SiteRules, changes: dict[str, Any], reason: str, now: datetime
) -> RulesChange:
    """Set figures of a site's rules, with a reason, and mark its people to be recomputed.

    Returns the change, which tells how far the recompute is. Raises `Invalid` for figures that can't be, for a
    missing reason and when nothing would change.
    """
    reason = need_reason(reason)[:300]
    with transaction.atomic():
        locked = SiteRules.objects.select_for_update(of=("self",)).select_related("site").get(pk=rules.pk)
        told = _set(locked, changes)
        change = _start(locked.site, told, reason, actor, now)
        audit_write(
            actor=actor,
            action="rules.changed",
            now=now,
            site=locked.site,
            target=f"rules-change:{change.pk}",
            old={field: value["old"] for field, value in told.items()},
            new={field: value["new"] for field, value in told.items()},
            reason=reason,
        )
        if change.finished_at is None:
            _refresh_rostered(change, now)
            if not _finish(change, now):
                ring("staff.recompute")
    return change


def _set(rules: SiteRules, changes: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Write what differs; returns field → old and new, as JSON types."""
    told = {
        field: {"old": getattr(rules, field), "new": value}
        for field, value in changes.items()
        if getattr(rules, field) != value
    }
    if not told:
        raise Invalid({}, _("Nothing would change; the rules are what they were."))
    for field, value in told.items():
        setattr(rules, field, value["new"])
    try:
        rules.full_clean()
    except ValidationError as error:
        raise Invalid({field: " ".join(words) for field, words in error.message_dict.items()}) from error
    rules.save()
    return told


def _start(
    site: Site, told: dict[str, dict[str, Any]], reason: str, actor: User, now: datetime
) -> RulesChange:
    """The row of the change and, when it touches clearance, a mark for everybody of the site."""
    touched = not set(told) <= NOT_CLEARANCE
    running = RulesChange.objects.filter(site=site, finished_at__isnull=True)
    earlier = list(running) if touched else []
    running.filter(pk__in=[row.pk for row in earlier]).update(finished_at=now)
    people = _lock_site(site) if touched else []
    change = RulesChange.objects.create(
        site=site,
        changes=told,
        reason=reason,
        by=actor,
        at=now,
        total=len(people),
        finished_at=None if touched else now,
    )
    RulesChange.objects.filter(pk__in=[row.pk for row in earlier]).update(overtaken_by=change)
    if touched:
        ClearancePending.objects.filter(person__site=site).delete()
        ClearancePending.objects.bulk_create(
            (ClearancePending(person_id=pk, change=change) for pk in people), batch_size=2000
        )
    return change


def _lock_site(site: Site) -> list[int]:
    """Everybody of the site and their current clearances, locked in the order of staff.services.clearance.

    The roster's guard takes the clearance FOR SHARE: a row inserted past the services either commits before
    this and is seen by what follows, or waits and finds the marks.
    """
    people = Person.objects.filter(site=site).select_for_update(no_key=True).order_by("pk")
    keys = list(people.values_list("pk", flat=True))
    current = Clearance.objects.filter(person__site=site, superseded_on__isnull=True)
    for _key in current.select_for_update(of=("self",), no_key=True).order_by("pk").values_list("pk"):
        pass
    return keys


def _refresh_rostered(change: RulesChange, now: datetime) -> None:
    """Nobody stays on a coming outing on the strength of the old rules, not even until the next chunk."""
    today = change.site.local_date(now)
    _refresh(
        list(
            Person.objects.filter(
                clearance_pending__change=change,
                assignments__outing__date__gte=today,
            )
            .distinct()
            .values_list("pk", flat=True)
        ),
        change.site,
        now,
    )


def _refresh(keys: list[int], site: Site, now: datetime) -> None:
    people = with_record(Person.objects.filter(pk__in=keys).select_related("site__rules"))
    clearance_refresh_many(
        people=list(people.prefetch_related("dues", "dose_standings").order_by("pk")),
        now=now,
        book=RegimenBook.for_sites([site]),
    )


def _finish(change: RulesChange, now: datetime) -> bool:
    if change.pending.exists():
        return False
    RulesChange.objects.filter(pk=change.pk, finished_at__isnull=True).update(finished_at=now)
    change.refresh_from_db(fields=["finished_at"])
    return True


@retried
def recompute_next(*, change_id: int, now: datetime) -> int:
    """Recompute the next chunk of people who wait on this change, in one transaction; returns how many.

    Two workers at once are harmless: whoever comes second finds its people's marks gone.
    """
    with transaction.atomic():
        waiting = ClearancePending.objects.filter(change=change_id).order_by("person_id")
        some = list(waiting.values_list("person_id", flat=True)[:CHUNK])
        locked = Person.objects.filter(pk__in=some).select_for_update(no_key=True).order_by("pk")
        keys = list(locked.values_list("pk", flat=True))
        still = list(
            ClearancePending.objects.filter(person__in=keys, change=change_id).values_list(
                "person_id", flat=True
            )
        )
        change = RulesChange.objects.select_related("site").get(pk=change_id)
        _refresh(still, change.site, now)
        if change.finished_at is None:
            _finish(change, now)
    return len(some)


def recompute_catch_up(*, now: datetime, at_most: int | None = None) -> int:
    """Recompute everybody who still waits, or `at_most` chunks; returns how many people. Resumes what a
    worker left behind. One site that can't be recomputed stays closed and never stops the others."""
    people, chunks = 0, 0
    for change_id in RulesChange.objects.filter(finished_at__isnull=True).values_list("pk", flat=True):
        try:
            while at_most is None or chunks < at_most:
                done = recompute_next(change_id=change_id, now=now)
                people, chunks = people + done, chunks + 1
                if not done:
                    break
        except Exception:
            logger.exception("The people of rules change %s can't be recomputed", change_id)
    return people
