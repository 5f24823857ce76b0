"""Reading the regimen table."""

from __future__ import annotations

from dataclasses import replace

from django.db.models import QuerySet

from staff.ground.purposes import COURSES, SERIES
from staff.models import Regimen, RegimenApproval, Site, User
from staff.rules.regimen import values
from staff.rules.regimen.regimen_states import RegimenState
from staff.selectors.access import OFFICER, sites_as

# What doses and courses may refer to: a retired version still explains those given by it.
KNOWN = (RegimenState.LISTED, RegimenState.RETIRED)


def regimens_all() -> QuerySet[Regimen]:
    return Regimen.objects.prefetch_related("steps", "approvals__site")


def regimens_visible_to(user: User) -> QuerySet[Regimen]:
    """The table as `user` may see it: drafts and what waits for approval are the officers' alone."""
    rows = regimens_all()
    return rows if sites_as(user, OFFICER).exists() else rows.filter(state__in=KNOWN)


def regimens_known() -> QuerySet[Regimen]:
    """Versions a dose on record may have been given by."""
    return Regimen.objects.filter(state__in=KNOWN).order_by("purpose", "code", "version")


def regimen_version(user: User, code: str, version: int | None = None) -> Regimen | None:
    """One version that `user` may see.

    Without a number the newest that some authority has approved, else the newest that is listed, else the newest.
    """
    rows = list(regimens_visible_to(user).filter(code=code).order_by("-version"))
    if version is not None:
        return next((row for row in rows if row.version == version), None)
    approved = (row for row in rows if any(each.withdrawn_at is None for each in row.approvals.all()))
    listed = (row for row in rows if row.state == RegimenState.LISTED)
    return next(approved, None) or next(listed, None) or next(iter(rows), None)


def regimens_to_export() -> QuerySet[Regimen]:
    """The versions a file of the table holds: what is listed, in the order they came in."""
    return regimens_all().filter(state=RegimenState.LISTED).order_by("pk")


def drafted_near(user: User, regimen: Regimen) -> bool:
    """Whether `user` is an officer of a site at which who drafted or last changed the version is one too.

    When none of them keeps a site any more, any officer is, so that no draft is left to nobody. A sample that
    came with the program was drafted near nobody.
    """
    hands = {regimen.drafted_by_id, regimen.changed_by_id} - {None}
    theirs = Site.objects.filter(site_roles__user__in=hands, site_roles__role=OFFICER)
    own = sites_as(user, OFFICER)
    return bool(hands) and (theirs.filter(pk__in=own).exists() or (not theirs.exists() and own.exists()))


def had_a_hand_in(user: User, regimen: Regimen) -> bool:
    """Whether `user` drafted, submitted or at any time changed the version, somebody else's later change or not."""
    return (
        user.pk in (regimen.drafted_by_id, regimen.changed_by_id, regimen.submitted_by_id)
        or regimen.edits.filter(by=user).exists()
        or regimen.moves.filter(by=user, new=Regimen.State.SUBMITTED).exists()
    )


def may_retire(user: User, regimen: Regimen) -> bool:
    """Whether the version is the matter of a site of `user`: drafted there, or approved for it at some time."""
    used = regimen.approvals.filter(site__in=sites_as(user, OFFICER)).exists()
    return used or drafted_near(user, regimen)


def approvals_managed_by(user: User) -> QuerySet[RegimenApproval]:
    """Approvals of the sites `user` is an officer of."""
    return RegimenApproval.objects.filter(site__in=sites_as(user, OFFICER)).select_related("regimen", "site")


def approved_at(site: Site, *purposes: str) -> QuerySet[Regimen]:
    """Versions the site's authority has approved and not withdrawn, with their steps."""
    return Regimen.objects.prefetch_related("steps").filter(
        approvals__site=site, approvals__withdrawn_at__isnull=True, purpose__in=purposes
    )


def versioned_rule(regimen: Regimen) -> values.Regimen:
    """The rule value under the name doses carry: code@version, so that two versions never mix."""
    return replace(regimen.as_rule(), code=f"{regimen.code}@{regimen.version}")


def post_exposure_rules() -> list[values.Regimen]:
    """Every post-exposure version: a documented course counts under the version it was given by."""
    rows = Regimen.objects.prefetch_related("steps").filter(purpose__in=COURSES, state__in=KNOWN)
    return [versioned_rule(row) for row in rows]


def pre_exposure_rules(site: Site) -> list[values.Regimen]:
    """The approved ones under the names doses carry, so that a regimen named on a dose is found again."""
    return [versioned_rule(row) for row in approved_at(site, *SERIES)]
