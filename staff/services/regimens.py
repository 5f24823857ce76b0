"""The regimen table: loading versions, approving them for a site, withdrawing an approval."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from staff.errors import Conflict, Invalid
from staff.models import Regimen, RegimenApproval, RegimenStep, Site, User
from staff.services.audit import audit_write
from staff.services.clearance import clearance_refresh_site
from staff.services.transactions import retried


def regimens_load(*, path: Path) -> int:
    """Add the versions of a regimen file that aren't in the table yet; returns how many. A version is never changed."""
    rows: list[dict[str, Any]] = json.loads(path.read_text())
    added = 0
    with transaction.atomic():
        for row in rows:
            if Regimen.objects.filter(code=row["code"], version=row["version"]).exists():
                continue
            regimen = Regimen.objects.create(
                **{key: row[key] for key in ("code", "version", "name", "purpose", "routes", "for_whom")},
                source=row["source"],
                source_kind=row["source_kind"],
            )
            RegimenStep.objects.bulk_create(RegimenStep(regimen=regimen, **step) for step in row["steps"])
            regimen.as_rule()  # refuses a row the rules can't work on
            added += 1
    return added


@retried
def regimen_approve(
    *,
    actor: User,
    regimen: Regimen,
    site: Site,
    authority: str,
    approved_on: date,
    document: str,
    now: datetime,
) -> RegimenApproval:
    """Note the authority's approval of a version for a site; the clearance of its people follows."""
    missing = {
        field: _("Needed to approve.")
        for field, value in (("authority", authority), ("document", document))
        if not value
    }
    if missing:
        raise Invalid(missing)
    with transaction.atomic():
        if RegimenApproval.objects.filter(regimen=regimen, site=site, withdrawn_at__isnull=True).exists():
            raise Conflict(_("This version is approved for the site already."), code="regimen-approved")
        approval = RegimenApproval.objects.create(
            regimen=regimen,
            site=site,
            authority=authority,
            approved_on=approved_on,
            document=document,
            approved_by=actor,
        )
        audit_write(
            actor=actor,
            action="regimen.approved",
            now=now,
            site=site,
            target=f"regimen:{regimen.code}@{regimen.version}",
        )
        clearance_refresh_site(site=site, now=now)
    return approval
