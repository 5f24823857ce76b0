"""Why somebody may not be put on an outing, in the form services refuse with."""

from __future__ import annotations

from datetime import date

from django.db import IntegrityError
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid, NotCleared
from staff.ground.transactions import Crossed
from staff.guards.roster import NOT_CLEARED
from staff.models import Assignment, Crew, CrewRole, Outing, Person
from staff.selectors.outing.on_crews import outings_of
from staff.selectors.record.clear_from import clear_from
from staff.selectors.record.readiness import readiness_of


def refusal(person: Person, on: date, today: date) -> NotCleared:
    """Why this person can't be rostered on `on`, in words, and from when they can; `today` is the site's date."""
    row = readiness_of(person, on)
    ahead = clear_from([row], today)[0]
    message = _("%(person)s is not clear for field work on %(date)s. %(reasons)s %(ahead)s") % {
        "person": person.name,
        "date": date_format(on),
        "reasons": " ".join(row.words),
        "ahead": ahead.words,
    }
    return NotCleared(message, reasons=(*row.words, ahead.words), clear_from=ahead.on)


# A slip of the year; rosters and kit look some weeks around a date, which the ends of the calendar don't have.
YEARS_AHEAD = 3


def check_outing_date(date: date, today: date) -> None:
    """Today by the site's calendar or later: a roster of the past is history, nobody can have been checked for it."""
    if date < today:
        raise Invalid({"date": _("Choose today or a later date.")})
    if date.year > today.year + YEARS_AHEAD:
        raise Invalid({"date": _("This lies years ahead; check the year.")})


def check_assignment(outing: Outing, crew: Crew, person: Person, role: str, today: date) -> None:
    """Refuse what doesn't belong together, whatever the person's clearance says."""
    if outing.cancelled_at is not None:
        raise Conflict(_("This outing is cancelled."), code="outing-cancelled")
    if outing.date < today:
        raise Conflict(_("This outing is over; its roster is history."), code="outing-over")
    if crew.outing_id != outing.pk:
        raise Invalid({"crew": _("This crew belongs to another outing.")})
    if person.site_id != outing.site_id:
        raise Invalid({"person": _("%(person)s belongs to another site.") % {"person": person.name}})
    if role not in CrewRole.values:
        raise Invalid({"role": _("Choose a crew role.")})
    if not person.crew_roles.filter(role=role).exists():
        message = _("%(person)s isn't listed as %(role)s; add the crew role to the person first.")
        raise Invalid({"role": message % {"person": person.name, "role": CrewRole(role).label}})


def already_on(person: Person) -> Conflict:
    message = _("%(person)s is on this outing already.") % {"person": person.name}
    return Conflict(message, code="already-assigned", fields={"person": message})


def elsewhere_on(person: Person, outing: Outing, date: date) -> Outing | None:
    """The other outing this person is on that day: nobody is in two places."""
    return outings_of(person=person).filter(date=date).exclude(pk=outing.pk).first()


def booked_twice(person: Person, other: Outing) -> Conflict:
    message = booked_words(person, other)
    return Conflict(message, code="booked-twice", fields={"person": message})


def booked_words(person: Person, other: Outing) -> str:
    return _("%(person)s is on the outing to %(area)s on that day.") % {
        "person": person.name,
        "area": other.area,
    }


def explain_guard(
    error: IntegrityError, person: Person, outing: Outing, today: date
) -> NotCleared | Conflict:
    """The database refused what the locks allowed: somebody went past the services."""
    if NOT_CLEARED in str(error) and not readiness_of(person, outing.date).clear:
        return refusal(person, outing.date, today)
    if Assignment.objects.filter(outing=outing, person=person).exists():
        return already_on(person)
    if other := elsewhere_on(person, outing, outing.date):
        return booked_twice(person, other)
    return Crossed()
