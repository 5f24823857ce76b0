"""Changing a site's plan of notices. What waits follows it at the next tick."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import PlanRow
from safety.rules.notices import follow_up as rule
from safety.rules.notices.site_plan import breaks
from safety.selectors.notices.plans import own_rows, rows_mark
from safety.words import break_words, row_words
from staff.bell import ring
from staff.ground.transactions import retried
from staff.models import Site, SiteRules, User
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason


@retried
def site_plan_set(
    *,
    actor: User,
    site: Site,
    what: rule.Subject,
    rows: Sequence[rule.PlanRow],
    reason: str,
    seen: str,
    now: datetime,
) -> None:
    """Put `rows` in the place of the site's own about one subject; without rows the shipped plan holds again.

    `seen` is the mark of the rows the change was made from. Raises `Invalid` for rows that break what every plan must
    keep, and `Conflict` when somebody changed the plan meanwhile or nothing would change.
    """
    reason = need_reason(reason)
    faults = breaks(rows, what) if rows else ()
    if faults:
        raise Invalid({}, " ".join(break_words(fault, audience) for fault, audience in faults))
    with transaction.atomic():
        # One row of the site stands for its plan, which may have no rows yet.
        SiteRules.objects.select_for_update(no_key=True).get(site=site)
        old = own_rows(site, what)
        if rows_mark(old) != seen:
            raise Conflict(_("Somebody changed this plan meanwhile; look at it again."), code="plan-changed")
        if rows_mark(rows) == seen:
            raise Conflict(_("Nothing would change; the plan is what it was."), code="plan-same")
        PlanRow.objects.filter(site=site, what=what).delete()
        PlanRow.objects.bulk_create(_row(site, row) for row in rows)
        audit_write(
            actor=actor,
            action="plan.changed",
            now=now,
            site=site,
            target=f"plan:{what}",
            old=[row_words(row) for row in old],
            new=[row_words(row) for row in rows],
            reason=reason,
        )
        ring("safety.tick")


def _row(site: Site, row: rule.PlanRow) -> PlanRow:
    return PlanRow(
        site=site,
        what=row.what,
        offset_days=row.offset_days,
        repeats_daily=row.repeats_daily,
        hour=row.hour,
        **{audience.value: audience in row.audiences for audience in rule.Audience},
    )
