"""A site's plan of notices as it holds now."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Iterable

from safety.models import PlanRow
from safety.rules.notices import follow_up as rule
from safety.rules.notices.site_plan import sound_plan
from safety.selectors.notices.asked_once import once
from staff.models import Site
from staff.rules.regimen.values import RuleError

logger = logging.getLogger(__name__)


def plan_of(site: Site) -> tuple[rule.PlanRow, ...]:
    """The rows that hold: the site's own where they keep what every plan must, else the shipped ones."""
    return once(("plan", site.pk), lambda: sound_plan(as_rules(PlanRow.objects.filter(site=site))))


def as_rules(rows: Iterable[PlanRow]) -> list[rule.PlanRow]:
    """The rows as values. One that can't be read counts as missing, so that the shipped plan takes its place."""
    found = []
    for row in rows:
        try:
            found.append(row.as_rule())
        except (RuleError, ValueError):
            logger.exception("Row %s of the plan of site %s can't be read", row.pk, row.site_id)
    return found


def own_rows(site: Site, what: rule.Subject) -> list[rule.PlanRow]:
    """The site's own rows about one subject, whether they hold or not."""
    return as_rules(PlanRow.objects.filter(site=site, what=what))


def rows_mark(rows: Iterable[rule.PlanRow]) -> str:
    """Tells one set of rows from another, whatever their order."""
    facts = sorted(
        (row.offset_days, row.repeats_daily, -1 if row.hour is None else row.hour, sorted(row.audiences))
        for row in rows
    )
    return hashlib.sha256(repr(facts).encode()).hexdigest()[:16]
