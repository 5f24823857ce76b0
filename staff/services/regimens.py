"""The regimen table: loading what comes with the program, approving versions for a site, withdrawing that."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

from django.db import transaction
from django.utils.translation import gettext as _

from staff.errors import Conflict, Invalid, NotAllowed
from staff.models import Regimen, RegimenApproval, Site, User
from staff.rules.regimen_states import RegimenState
from staff.selectors.access import OFFICER, holds
from staff.services.audit import audit_write
from staff.services.clearance import clearance_refresh_site, need_reason
from staff.services.regimen_drafts import refuse_faults, regimen_draft
from staff.services.regimen_file import file_read
from staff.services.regimen_moves import need_state, regimen_lock, regimen_move, regimen_target
from staff.services.transactions import retried


def regimens_load(*, path: Path, now: datetime) -> int:
    """Add the samples of a regimen file that aren't in the table yet, as listed; returns how many.

    Nobody has drafted them and no site has approved them. A version that stands is never changed.
    """
    added = 0
    with transaction.atomic():
        for row in file_read(content=path.read_bytes()):
            if Regimen.objects.filter(code=row.code, version=row.version).exists():
                continue
            refuse_faults(row.facts)
            regimen = regimen_draft(
                actor=None,
                code=row.code,
                version=row.version,
                facts=row.facts,
                now=now,
                why=_("came with the program"),
            )
            regimen_move(
                actor=None,
                regimen=regimen,
                to=RegimenState.LISTED,
                now=now,
                why=_("a sample: any site may have it approved"),
            )
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
    """Note the authority's approval of a version for a site; the clearance of its people follows.

    The first approval of a submitted version lists it. Two people are needed: who drafted, last changed
    or submitted the version can't approve it, at any site.
    """
    _check_approval(site, authority, approved_on, document, now)
    if not holds(actor, site, OFFICER):
        raise NotAllowed(_("Only the site's safety officer notes an approval."))
    with transaction.atomic():
        locked = regimen_lock(regimen)
        need_state(locked, RegimenState.SUBMITTED, RegimenState.LISTED)
        if actor.pk in (locked.drafted_by_id, locked.changed_by_id, locked.submitted_by_id):
            raise NotAllowed(
                _("You drafted, changed or submitted this version; another officer has to approve it."),
                code="second-person-needed",
            )
        if locked.approvals.filter(site=site, withdrawn_at__isnull=True).exists():
            raise Conflict(_("This version is approved for the site already."), code="regimen-approved")
        if locked.state == RegimenState.SUBMITTED:
            regimen_move(actor=actor, regimen=locked, to=RegimenState.LISTED, now=now, why=document)
        approval = RegimenApproval.objects.create(
            regimen=locked,
            site=site,
            authority=authority,
            approved_on=approved_on,
            document=document,
            approved_by=actor,
        )
        audit_write(actor=actor, action="regimen.approved", now=now, site=site, target=regimen_target(locked))
        clearance_refresh_site(site=site, now=now)
    return approval


def _check_approval(site: Site, authority: str, approved_on: date, document: str, now: datetime) -> None:
    wrong = {
        field: _("Needed to approve.")
        for field, value in (("authority", authority), ("document", document))
        if not value.strip()
    }
    if approved_on > site.local_date(now):
        wrong["approved_on"] = _("This date is still to come; note the approval once it is given.")
    if wrong:
        raise Invalid(wrong)


@retried
def regimen_withdraw(*, actor: User, approval: RegimenApproval, why: str, now: datetime) -> None:
    """End new use of a version at a site; its people's clearance follows, a course that runs stays on its version."""
    why = need_reason(why, field="why")
    if not holds(actor, approval.site, OFFICER):
        raise NotAllowed(_("Only the site's safety officer withdraws an approval."))
    with transaction.atomic():
        regimen_lock(approval.regimen)
        ended = RegimenApproval.objects.filter(pk=approval.pk, withdrawn_at__isnull=True).update(
            withdrawn_at=now, withdrawn_by=actor, withdraw_reason=why[:300]
        )
        if not ended:
            raise Conflict(_("This approval is withdrawn already."), code="approval-withdrawn")
        audit_write(
            actor=actor,
            action="regimen.approval-withdrawn",
            now=now,
            site=approval.site,
            target=regimen_target(approval.regimen),
            reason=why,
        )
        clearance_refresh_site(site=approval.site, now=now)
