"""Approving a version of a regimen for a site, and withdrawing that.

An approval and its withdrawal are changes of a site's rules: they hold from their commit on, and the site's
people are recomputed in the background (see staff.services.record.recompute).
"""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.ground.limits import within
from staff.ground.purposes import SERIES
from staff.ground.transactions import retried
from staff.models import Regimen, RegimenApproval, RulesChange, Site, User
from staff.rules.regimen.regimen_states import RegimenState
from staff.selectors.access import OFFICER, has_role
from staff.selectors.regimen.regimens import had_a_hand_in
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason
from staff.services.record.recompute import recompute_start, rules_lock
from staff.services.regimen.regimen_moves import need_state, regimen_lock, regimen_move


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
    reason: str = "",
) -> RegimenApproval:
    """Note the authority's approval of a version for a site, and mark its people to be recomputed.

    `reason` says why it is done although somebody loses clearance by it; without one the document stands for it.
    The first approval of a submitted version lists it. Two people are needed: who drafted, changed or
    submitted the version can't approve it, at any site.
    """
    _check_approval(site, authority, approved_on, document, now)
    if not has_role(actor, site, OFFICER):
        raise NotAllowed(_("Only the site's safety officer notes an approval."))
    with transaction.atomic():
        locked = regimen_lock(regimen)
        rules_lock(site.pk)
        need_state(locked, RegimenState.SUBMITTED, RegimenState.LISTED)
        if had_a_hand_in(actor, locked):
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
        audit_write(
            actor=actor,
            action="regimen.approved",
            now=now,
            site=site,
            target=locked.target,
            reason=reason.strip() or document,
        )
        _recompute(site, locked, reason.strip() or document, actor, now, approved=True)
    return approval


def _recompute(
    site: Site, regimen: Regimen, reason: str, actor: User, now: datetime, *, approved: bool
) -> RulesChange:
    version = f"{regimen.code} v{regimen.version}"
    return recompute_start(
        site=site,
        changes={"regimen": {"old": None, "new": version} if approved else {"old": version, "new": None}},
        reason=reason,
        actor=actor,
        now=now,
        # A course after a bite counts by the version it was given by, whatever a site has approved.
        touched=regimen.purpose in SERIES,
    )


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
    """End new use of a version at a site and mark its people to be recomputed; a course that runs stays on it."""
    why = within(need_reason(why, field="why"), RegimenApproval, "withdraw_reason", field="why")
    if not has_role(actor, approval.site, OFFICER):
        raise NotAllowed(_("Only the site's safety officer withdraws an approval."))
    with transaction.atomic():
        regimen_lock(approval.regimen)
        rules_lock(approval.site_id)
        ended = RegimenApproval.objects.filter(pk=approval.pk, withdrawn_at__isnull=True).update(
            withdrawn_at=now, withdrawn_by=actor, withdraw_reason=why
        )
        if not ended:
            raise Conflict(_("This approval is withdrawn already."), code="approval-withdrawn")
        audit_write(
            actor=actor,
            action="regimen.approval-withdrawn",
            now=now,
            site=approval.site,
            target=approval.regimen.target,
            reason=why,
        )
        _recompute(approval.site, approval.regimen, why, actor, now, approved=False)
