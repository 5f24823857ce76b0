"""The one writer of the states of regimen versions: each change of state leaves its row."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, NotAllowed
from staff.ground.limits import within
from staff.models import Regimen, RegimenMove, User
from staff.rules.regimen.regimen_states import RegimenState, may_move
from staff.selectors.access import OFFICER, sites_as
from staff.selectors.regimen.regimens import drafted_near, may_retire
from staff.services.audit import audit_write


def regimen_lock(regimen: Regimen) -> Regimen:
    """The version as it is now, locked until the transaction ends."""
    return Regimen.objects.select_for_update(no_key=True).get(pk=regimen.pk)


def need_officer(actor: User) -> None:
    """The table is shared by all sites: an officer of any of them may add drafts; refused for everybody else."""
    if not sites_as(actor, OFFICER).exists():
        raise NotAllowed(_("Only a safety officer may change the regimen table."))


def need_drafted_near(actor: User, regimen: Regimen) -> None:
    """A draft is the work of a site: refused for officers of others, who may copy it into a draft of their own."""
    if not drafted_near(actor, regimen):
        raise NotAllowed(
            _("%(regimen)s is drafted at another site. Copy it into a draft of your own, under a new code.")
            % {"regimen": regimen},
            code="drafted-elsewhere",
        )


def need_retiring(actor: User, regimen: Regimen) -> None:
    """Refused for officers whose sites neither drafted the version nor ever had it approved: it is there for others."""
    need_officer(actor)
    if not may_retire(actor, regimen):
        raise NotAllowed(
            _("Your sites neither drafted %(regimen)s nor used it, so it stays in the table for the others.")
            % {"regimen": regimen},
            code="used-elsewhere",
        )


def need_state(regimen: Regimen, *states: RegimenState) -> None:
    """Refuse, naming the version and its state, unless it is in one of `states`."""
    if regimen.state not in states:
        raise Conflict(
            _("%(regimen)s is %(state)s, so this isn't possible. To change it, copy it into a new draft.")
            % {"regimen": regimen, "state": regimen.get_state_display()},
            code="regimen-state",
        )


def regimen_born(*, actor: User | None, regimen: Regimen, now: datetime, why: str) -> None:
    """Write the first row of a version's history; call it where the version is created."""
    RegimenMove.objects.create(
        regimen=regimen, old="", new=RegimenState.DRAFT, by=actor, at=now, why=within(why, RegimenMove, "why")
    )


def regimen_move(
    *, actor: User | None, regimen: Regimen, to: RegimenState, now: datetime, why: str = ""
) -> None:
    """Move a locked version to another state; raises Conflict, naming its state, when that is no legal move."""
    old, why = RegimenState(regimen.state), within(why, RegimenMove, "why")
    if not may_move(old, to, sample=regimen.drafted_by_id is None):
        need_state(regimen)
    regimen.state = to
    if to is RegimenState.SUBMITTED:
        regimen.submitted_by = actor
    # Later approvers are compared with who submitted it, so that name stays when it is sent back.
    regimen.save(update_fields=["state", "submitted_by"] if to is RegimenState.SUBMITTED else ["state"])
    RegimenMove.objects.create(regimen=regimen, old=old, new=to, by=actor, at=now, why=why)
    audit_write(
        actor=actor,
        action=f"regimen.{to}",
        now=now,
        target=regimen.target,
        old=old.value,
        new=to.value,
        reason=why,
    )
