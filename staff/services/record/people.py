"""People of a site: who they are and what they do on a crew."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid
from staff.ground.transactions import retried
from staff.models import CrewRole, Person, PersonCrewRole, Site, User
from staff.services.audit import audit_write
from staff.services.record.clearance import clearance_refresh, lock_person
from staff.services.record.own_record import need_somebody_else
from staff.services.record.recompute import rules_lock

EDITABLE = ("name", "email", "phone", "language", "active_from", "active_until")


@retried
def person_create(
    *,
    actor: User,
    site: Site,
    number: str,
    name: str,
    now: datetime,
    crew_roles: Iterable[str] = (),
    email: str = "",
    phone: str = "",
    active_from: date | None = None,
    active_until: date | None = None,
) -> Person:
    """Add a person; raises `Conflict` when the staff number is taken at this site."""
    _check_dates(active_from, active_until)
    try:
        with transaction.atomic():
            rules_lock(site.pk)
            person = Person.objects.create(
                site=site,
                number=number,
                name=name,
                email=email,
                phone=phone,
                language=site.language,
                active_from=active_from,
                active_until=active_until,
            )
            _set_crew_roles(person, crew_roles)
            audit_write(actor=actor, action="person.added", now=now, person=person)
            clearance_refresh(person=person, now=now)
    except IntegrityError as error:
        message = _("Staff number %(number)s is taken at this site.") % {"number": number}
        raise Conflict(message, code="number-taken", fields={"number": message}) from error
    return person


@retried
def person_update(
    *, actor: User, person: Person, now: datetime, crew_roles: Iterable[str] | None = None, **changes: object
) -> Person:
    """Change contact data, active dates or crew roles; unknown fields are refused by name. Raises `NotAllowed` for
    who would be with the team longer by their own word."""
    if unknown := sorted(set(changes) - set(EDITABLE)):
        raise Invalid({field: _("This can't be changed here.") for field in unknown})
    with transaction.atomic():
        locked = lock_person(person.pk)
        was = (locked.active_from, locked.active_until)
        old = {field: str(getattr(locked, field)) for field in changes}
        for field, value in changes.items():
            setattr(locked, field, value)
        _check_dates(locked.active_from, locked.active_until)
        _check_own_dates(actor, locked, *was)
        # Only what changes: an UPDATE that names a key column shuts out the foreign keys to the row (PostgreSQL).
        locked.save(update_fields=list(changes))
        if crew_roles is not None:
            _set_crew_roles(locked, crew_roles)
        audit_write(
            actor=actor,
            action="person.changed",
            now=now,
            person=locked,
            old=old,
            new={field: str(value) for field, value in changes.items()},
        )
        clearance_refresh(person=locked, now=now)
    return locked


def _check_dates(active_from: date | None, active_until: date | None) -> None:
    if active_from and active_until and active_until < active_from:
        raise Invalid({"active_until": _("The last day with the team lies before the first.")})


def _check_own_dates(actor: User, person: Person, was_from: date | None, was_until: date | None) -> None:
    if (person.active_from or date.min) < (was_from or date.min):
        need_somebody_else(actor=actor, person=person, field="active_from")
    if (person.active_until or date.max) > (was_until or date.max):
        need_somebody_else(actor=actor, person=person, field="active_until")


def _set_crew_roles(person: Person, roles: Iterable[str]) -> None:
    wanted = list(dict.fromkeys(roles))
    if wrong := [role for role in wanted if role not in CrewRole.values]:
        raise Invalid({"crew_roles": _("“%(role)s” is no crew role.") % {"role": wrong[0]}})
    person.crew_roles.exclude(role__in=wanted).delete()
    held = set(person.crew_roles.values_list("role", flat=True))
    PersonCrewRole.objects.bulk_create(
        PersonCrewRole(person=person, role=role) for role in wanted if role not in held
    )
