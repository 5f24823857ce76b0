"""Changing a site's rules: the new figures hold at once, its people are recomputed in the background.

From the commit of the change on, the roster's guard lets nobody onto an outing whose clearance is older than
the rules (see staff.services.record.recompute).
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Invalid
from staff.ground.transactions import retried
from staff.models import RulesChange, SiteRules, User
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason
from staff.services.record.recompute import recompute_start, rules_lock

# Figures that clearance never reads. Any other field recomputes everybody: a new one is safe by default.
NOT_CLEARANCE = frozenset(
    {
        "hold_after_exposure",
        "travel_kmh",
        "clinic_news_days",
        "clinic_of_day_minutes",
        "immunoglobulin_minutes",
        "wash_minutes",
        "observation_days",
        "late_rule",
        "restart_after_days",
        "notice_hour",
        "acknowledge_hours",
        "further_contact_email",
        "longest_run",
        "rest_days",
        "community_days",
        "spare_percent",
        "syringe_uses",
        "washes_carried",
        "wash_flow_ml",
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
    reason = need_reason(reason)
    with transaction.atomic():
        locked = rules_lock(rules.site_id)
        told = _set(locked, changes)
        change = recompute_start(
            site=locked.site,
            changes=told,
            reason=reason,
            actor=actor,
            now=now,
            touched=not set(told) <= NOT_CLEARANCE,
        )
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
