"""What people asked for, and who a crew needs at a site."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid
from staff.models import CrewShape, DayWish, Method, Person, Site, User
from staff.rules.outing.crew_shape import SHIPPED
from staff.services.audit import audit_write

# A wish for longer than this is no wish for days but leave.
LONGEST_WISH = timedelta(days=92)


def wish_add(
    *, actor: User, person: Person, kind: str, first_on: date, last_on: date | None, now: datetime
) -> DayWish:
    """Note the days somebody asked for. The last word about a day counts; nobody is taken off a roster by it."""
    last_on = last_on or first_on
    if kind not in DayWish.Kind.values:
        raise Invalid({"kind": _("Choose one of the wishes.")})
    if last_on < first_on:
        raise Invalid({"last_on": _("The last day lies before the first.")})
    if last_on < person.site.local_date(now):
        raise Invalid({"first_on": _("These days are over. Choose today or later.")})
    if last_on - first_on > LONGEST_WISH:
        raise Invalid({"last_on": _("Choose at most three months at a time.")})
    with transaction.atomic():
        wish = DayWish.objects.create(
            person=person, kind=kind, first_on=first_on, last_on=last_on, recorded_by=actor, recorded_at=now
        )
        _note(actor, "wish.noted", wish, now)
    return wish


def wish_remove(*, actor: User, wish: DayWish, now: datetime) -> None:
    with transaction.atomic():
        if not DayWish.objects.filter(pk=wish.pk).exists():
            raise Conflict(_("This wish is taken back already."), code="wish-gone")
        _note(actor, "wish.taken-back", wish, now)
        wish.delete()


def _note(actor: User, action: str, wish: DayWish, now: datetime) -> None:
    days = [wish.first_on.isoformat(), wish.last_on.isoformat()]
    audit_write(actor=actor, action=action, now=now, person=wish.person, kind=wish.kind, days=days)


def crew_shape_set(*, actor: User, site: Site, method: str, needed: dict[str, int], now: datetime) -> None:
    """Say who a crew of `method` needs at the site. Raises `Invalid` when that would be nobody."""
    if method not in Method.values:
        raise Invalid({"method": _("Choose a method.")})
    if not any(needed.values()):
        raise Invalid({"vaccinator": _("A crew needs somebody: give at least one crew role.")})
    with transaction.atomic():
        Site.objects.select_for_update(of=("self",), no_key=True).get(pk=site.pk)
        rows = CrewShape.objects.filter(site=site, method=method)
        old = dict(rows.values_list("role", "needed")) or dict(SHIPPED[method])
        rows.delete()
        CrewShape.objects.bulk_create(
            CrewShape(site=site, method=method, role=role, needed=number) for role, number in needed.items()
        )
        audit_write(
            actor=actor, action="crew-shape.changed", now=now, site=site, method=method, old=old, new=needed
        )
