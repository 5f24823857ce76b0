"""Entering and ending absences. Notices that wait follow with the next tick, for their keys name the reader."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid, NotAllowed
from safety.models import Absence
from safety.selectors.notices.absences import OFFICE, deputies_for, users_kept_by
from staff.bell import ring
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import Site, SiteRole, User
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason

# Longer than this an absence is a slip of the year, or a duty to hand over; common practice, no source.
LONGEST = timedelta(days=366)


@retried
def absence_add(
    *,
    actor: User,
    user: User,
    first_day: date,
    last_day: date,
    deputy: User | None,
    now: datetime,
    note: str = "",
) -> Absence:
    """Enter days on which `deputy` is written to in `user`'s stead; refused where another absence covers one of them.

    Without a deputy everybody of the other role is written to besides. By the person or an officer of the site.
    """
    site = _site_of(user)
    if site is None or not users_kept_by(actor).filter(pk=user.pk).exists():
        raise NotAllowed(_("Only the person or a safety officer of the same site enters an absence."))
    note = within(note, Absence, "note")
    _check_days(first_day, last_day, site.local_date(now))
    _check_deputy(user, deputy)
    with transaction.atomic():
        # Two entries at once would each find the other's days free.
        User.objects.select_for_update(no_key=True).get(pk=user.pk)
        standing = Absence.objects.filter(user=user, ended_at__isnull=True)
        if standing.filter(first_day__lte=last_day, last_day__gte=first_day).exists():
            message = _("Another absence covers some of these days: end that one first.")
            raise Conflict(message, code="absence-overlaps", fields={"first_day": message})
        made = Absence.objects.create(
            user=user,
            first_day=first_day,
            last_day=last_day,
            deputy=deputy,
            note=note,
            made_by=actor,
            made_at=now,
        )
        _audit(actor, "absence.added", made, site, now, deputy=deputy.username if deputy else "")
        ring("safety.tick")
    return made


@retried
def absence_end(*, actor: User, absence: Absence, reason: str, now: datetime) -> None:
    """From now on the person is written to again; refused for one that is ended already."""
    reason = within(need_reason(reason), Absence, "end_reason", field="reason")
    if not users_kept_by(actor).filter(pk=absence.user_id).exists():
        raise NotAllowed(_("Only the person or a safety officer of the same site ends an absence."))
    with transaction.atomic():
        locked = Absence.objects.select_for_update(of=("self",), no_key=True).get(pk=absence.pk)
        if locked.ended_at is not None:
            raise Conflict(_("This absence is ended already."), code="absence-ended")
        locked.ended_at, locked.ended_by, locked.end_reason = now, actor, reason
        locked.save(update_fields=["ended_at", "ended_by", "end_reason"])
        _audit(actor, "absence.ended", locked, _site_of(locked.user), now, reason=reason)
        ring("safety.tick")


def _site_of(user: User) -> Site | None:
    role = SiteRole.objects.filter(user=user, role__in=OFFICE).select_related("site").order_by("pk").first()
    return role.site if role else None


def _check_days(first_day: date, last_day: date, today: date) -> None:
    if last_day < first_day:
        raise Invalid({"last_day": _("The last day is before the first: check both dates.")})
    # A day of slack: the person's other sites may be a date behind.
    if last_day < today - timedelta(days=1):
        raise Invalid({"last_day": _("These days are over: give days from today on.")})
    if last_day - first_day > LONGEST:
        raise Invalid({"last_day": _("That is more than a year: check the year.")})


def _check_deputy(user: User, deputy: User | None) -> None:
    if deputy is None:
        return
    if deputy.pk == user.pk:
        raise Invalid({"deputy": _("Choose somebody else: nobody stands in for themself.")})
    if not deputies_for(user).filter(pk=deputy.pk).exists():
        raise Invalid({"deputy": _("Choose an officer or liaison of the same site.")})


def _audit(actor: User, action: str, absence: Absence, site: Site | None, now: datetime, **said: Any) -> None:
    audit_write(
        actor=actor,
        action=action,
        now=now,
        site=site,
        target=absence.user.username,
        first_day=absence.first_day.isoformat(),
        last_day=absence.last_day.isoformat(),
        **said,
    )
