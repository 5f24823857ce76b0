"""Accounts and roles. Whoever changes what an account may do leaves a row, and never does it for themself.

A change of an account is an audit row and an `AccountChange` in one transaction: from the latter the person
and the officers are told.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.ground.transactions import retried
from staff.models import AccountChange, RoleOffer, Site, SiteRole, User
from staff.selectors.site.role_offers import may_confirm
from staff.services.audit import audit_write
from staff.services.site.guesses import guess_forgive
from staff.services.site.passwords import sign_in_key

Kind = AccountChange.Kind
# What opens or closes a door: kind of change by field and new value.
_DOORS: Mapping[tuple[str, bool], AccountChange.Kind] = {
    ("is_active", True): Kind.OPENED,
    ("is_active", False): Kind.CLOSED,
    ("is_superuser", True): Kind.ADMINISTRATOR,
    ("is_superuser", False): Kind.NO_ADMINISTRATOR,
}


@retried
def account_create(*, actor: User, account: User, now: datetime) -> User:
    """Save a new account without a password: nobody but its owner is ever to know one (`password_set`)."""
    with transaction.atomic():
        account.set_unusable_password()
        account.save()
        _note(account, Kind.MADE, actor, now, username=account.username)
    return account


@retried
def account_save(*, actor: User, account: User, old: Mapping[str, Any], now: datetime) -> None:
    """Save a changed account; `old` holds what its changed fields were. Raises `NotAllowed` for a door of one's own."""
    with transaction.atomic():
        kinds = [
            kind for (name, new), kind in _DOORS.items() if name in old and getattr(account, name) is new
        ]
        if kinds and actor.pk == account.pk:
            raise NotAllowed(_("Another administrator has to change this of your account."))
        account.is_staff = account.is_superuser
        account.save()
        changes: dict[str, Any] = {
            name: [str(value), str(getattr(account, name))] for name, value in old.items()
        }
        for kind in kinds:
            _note(account, kind, actor, now)
        if "email" in old:
            _note(account, Kind.EMAIL, actor, now, old_email=old["email"])
        if changes:
            audit_write(actor=actor, action="account.changed", now=now, target=_target(account), **changes)


@retried
def role_give(
    *, actor: User | None, account: User, site: Site, role: str, now: datetime
) -> SiteRole | RoleOffer:
    """Give a role at a site: it waits for an officer there to confirm it, or holds at once where no other is.

    Raises `NotAllowed` for oneself, `Conflict` for one that is held or waits, `Invalid` for none.
    """
    if role not in SiteRole.Role.values:
        raise Invalid({"role": _("Choose one of the roles.")})
    _need_another(actor, account)
    about: dict[str, Any] = {"user": account, "site": site, "role": role}
    with transaction.atomic():
        if SiteRole.objects.filter(**about).exists():
            raise Conflict(_("This account holds that role already."), code="role-held")
        if not may_confirm(site, giver=actor, receiver=account).exists():
            row, made = SiteRole.objects.get_or_create(**about, defaults={"given_by": actor})
            if not made:
                raise Conflict(_("This account holds that role already."), code="role-held")
            _note(account, Kind.ROLE_GIVEN, actor, now, site=site, role=role)
            return row
        offer, made = RoleOffer.objects.get_or_create(
            **about, answered_at=None, defaults={"given_by": actor, "given_at": now}
        )
        if not made:
            raise Conflict(_("That role waits for an officer of the site already."), code="role-waits")
        _note(account, Kind.ROLE_OFFERED, actor, now, site=site, role=role)
    return offer


@retried
def role_answer(*, actor: User, offer: RoleOffer, confirmed: bool, now: datetime) -> None:
    """An officer's word on a role that waits; with a yes it holds from now on.

    Raises `NotAllowed` for whoever gave or gets it and for who is no officer there, `Conflict` when it was answered.
    """
    with transaction.atomic():
        allowed = may_confirm(offer.site, giver=offer.given_by, receiver=offer.user)
        if not allowed.filter(pk=actor.pk).exists():
            raise NotAllowed(
                _("An officer of the site who neither gave nor gets the role has to confirm it.")
            )
        answered = RoleOffer.objects.filter(pk=offer.pk, answered_at=None).update(
            answered_by=actor, answered_at=now, confirmed=confirmed
        )
        if not answered:
            raise Conflict(_("Somebody has answered this already."), code="role-answered")
        if confirmed:
            SiteRole.objects.get_or_create(
                user=offer.user,
                site=offer.site,
                role=offer.role,
                defaults={"given_by": offer.given_by, "confirmed_by": actor},
            )
        kind = Kind.ROLE_GIVEN if confirmed else Kind.ROLE_DECLINED
        _note(offer.user, kind, actor, now, site=offer.site, role=offer.role)


@retried
def role_take(*, actor: User | None, row: SiteRole, now: datetime) -> None:
    """Take a role away. Raises `NotAllowed` for one's own, `Conflict` when it is gone already."""
    _need_another(actor, row.user)
    with transaction.atomic():
        gone, _rows = SiteRole.objects.filter(pk=row.pk).delete()
        if not gone:
            raise Conflict(_("This account doesn't hold that role any more."), code="role-gone")
        _note(row.user, Kind.ROLE_TAKEN, actor, now, site=row.site, role=row.role)


@retried
def password_set(*, account: User, password: str, now: datetime) -> None:
    """Set a checked password at the console of the server: its sessions end, and everybody concerned is told."""
    with transaction.atomic():
        account.set_password(password)
        account.save(update_fields=["password"])
        guess_forgive(key=sign_in_key(account.get_username()))
        _note(account, Kind.PASSWORD_SET, None, now)


def key_noted(*, account: User, now: datetime) -> None:
    """A key made for `account` at the console; call in the transaction that makes it (which writes the audit row)."""
    AccountChange.objects.create(account=account, kind=Kind.KEY_MADE, by=None, at=now)


def _need_another(actor: User | None, account: User) -> None:
    if actor is not None and actor.pk == account.pk:
        raise NotAllowed(
            _("Nobody gives a role to themself or takes their own; another administrator has to."),
            code="needs-a-second-person",
        )


def _note(
    account: User,
    kind: AccountChange.Kind,
    actor: User | None,
    now: datetime,
    *,
    site: Site | None = None,
    role: str = "",
    old_email: str = "",
    **detail: Any,
) -> None:
    AccountChange.objects.create(
        account=account, kind=kind, site=site, role=role, old_email=old_email, by=actor, at=now
    )
    if role:
        detail |= {"role": role}
    audit_write(
        actor=actor, action=f"account.{kind.value}", now=now, site=site, target=_target(account), **detail
    )


def _target(account: User) -> str:
    return f"account:{account.pk}"
