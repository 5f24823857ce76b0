"""Who is on which crew. Nobody uncleared: the service explains, the database enforces."""

from __future__ import annotations

from datetime import date, datetime

from django.db import DatabaseError, IntegrityError, transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.errors import Conflict, Invalid, NotCleared
from staff.guards import NOT_CLEARED
from staff.models import Assignment, Crew, CrewRole, Outing, Person, User, Withdrawal
from staff.rules.intervals import covers
from staff.selectors.readiness import clearance_on, readiness_of
from staff.services.audit import audit_write
from staff.services.clearance import need_reason, withdraw


def refusal(person: Person, on: date) -> NotCleared:
    """Why this person can't be rostered on `on`, in words, and from when they can."""
    row = readiness_of(person, on)
    message = _("%(person)s is not clear for field work on %(date)s. %(reasons)s") % {
        "person": person.name,
        "date": date_format(on),
        "reasons": " ".join(row.words),
    }
    return NotCleared(message, reasons=row.words, clear_from=row.clear_from)


def _check(outing: Outing, crew: Crew, person: Person, role: str, today: date) -> None:
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


def roster_assign(
    *, actor: User, outing: Outing, crew: Crew, person: Person, role: str, now: datetime
) -> Assignment:
    """Put a person on a crew.

    Raises `NotCleared` with the reasons when the person isn't clear on the outing's date, `Conflict` when the
    outing is over, cancelled, or has the person already, `Invalid` for what doesn't belong together.
    """
    _check(outing, crew, person, role, outing.site.local_date(now))
    cover = clearance_on(person, outing.date)
    if cover is None or not readiness_of(person, outing.date).clear:
        raise refusal(person, outing.date)
    if Assignment.objects.filter(outing=outing, person=person).exists():
        raise _already(person)
    try:
        with transaction.atomic():
            assignment = Assignment.objects.create(
                outing=outing,
                crew=crew,
                person=person,
                role=role,
                clearance=cover,
                assigned_by=actor,
                assigned_at=now,
            )
            audit_write(
                actor=actor,
                action="roster.assigned",
                now=now,
                person=person,
                target=f"outing:{outing.pk}",
                role=role,
            )
    except IntegrityError as error:
        raise _explain(error, person, outing) from error
    return assignment


def _already(person: Person) -> Conflict:
    message = _("%(person)s is on this outing already.") % {"person": person.name}
    return Conflict(message, code="already-assigned", fields={"person": message})


def _explain(error: DatabaseError, person: Person, outing: Outing) -> NotCleared | Conflict:
    """The database refused: a race was lost, or the person is on the outing already."""
    if NOT_CLEARED in str(error):
        return refusal(person, outing.date)
    if "person_once_an_outing" in str(error) or "UNIQUE" in str(error):
        return _already(person)
    return Conflict(_("The roster changed meanwhile; look again and retry."), code="roster-changed")


def roster_withdraw(*, actor: User, assignment: Assignment, reason: str, now: datetime) -> Withdrawal:
    """Take a person off by hand, with a reason; refused once the outing is over."""
    reason = need_reason(reason)
    if assignment.outing.date < assignment.outing.site.local_date(now):
        raise Conflict(_("This outing is over; its roster is history."), code="outing-over")
    with transaction.atomic():
        taken = Assignment.objects.select_for_update().filter(pk=assignment.pk)
        if not taken:
            raise Conflict(_("This person is off the roster already."), code="already-withdrawn")
        row = Withdrawal.objects.create(
            outing=assignment.outing,
            crew_name=assignment.crew.name,
            person=assignment.person,
            role=assignment.role,
            reason=reason[:300],
            withdrawn_by=actor,
            withdrawn_at=now,
        )
        taken.delete()
        audit_write(
            actor=actor,
            action="roster.withdrawn",
            now=now,
            person=assignment.person,
            target=f"outing:{assignment.outing_id}",
            reason=reason,
        )
    return row


def outing_create(
    *,
    actor: User,
    site_id: int,
    date: date,
    area: str,
    method: str,
    now: datetime,
    dogs_expected: int = 0,
    crews: int = 1,
) -> Outing:
    """Plan an outing with `crews` empty crews (1 to 12)."""
    if not 1 <= crews <= 12:
        raise Invalid({"crews": _("Plan 1 to 12 crews.")})
    with transaction.atomic():
        outing = Outing.objects.create(
            site_id=site_id,
            date=date,
            area=area,
            method=method,
            dogs_expected=dogs_expected,
            created_by=actor,
            created_at=now,
        )
        Crew.objects.bulk_create(
            Crew(outing=outing, name=_("Crew %(number)s") % {"number": number})
            for number in range(1, crews + 1)
        )
        audit_write(
            actor=actor, action="outing.planned", now=now, site=outing.site, target=f"outing:{outing.pk}"
        )
    return outing


def outing_move(*, actor: User, outing: Outing, date: date, now: datetime) -> list[Withdrawal]:
    """Move an outing to another date; who isn't clear on it is withdrawn. Returns those withdrawals."""
    today = outing.site.local_date(now)
    if date < today:
        raise Invalid({"date": _("Choose today or a later date.")})
    with transaction.atomic():
        locked = (
            Outing.objects.select_for_update(of=("self",)).select_related("site__rules").get(pk=outing.pk)
        )
        if locked.cancelled_at is not None:
            raise Conflict(_("This outing is cancelled."), code="outing-cancelled")
        if locked.date < today:
            raise Conflict(_("This outing is over; its date is history."), code="outing-over")
        kept, withdrawn = _part(locked, date, now)
        old, locked.date = locked.date, date
        locked.save(update_fields=["date"])
        Assignment.objects.bulk_create(kept)
        audit_write(
            actor=actor,
            action="outing.moved",
            now=now,
            site=locked.site,
            target=f"outing:{locked.pk}",
            old=old.isoformat(),
            new=date.isoformat(),
        )
    outing.date = date
    return withdrawn


def _part(outing: Outing, date: date, now: datetime) -> tuple[list[Assignment], list[Withdrawal]]:
    """Take off whoever's present clearance doesn't reach the new date; give back those another one covers."""
    again, withdrawn = [], []
    for assignment in outing.assignments.select_related("clearance", "person__site__rules", "crew", "outing"):
        if covers([assignment.clearance.as_interval()], date):
            continue
        cover = clearance_on(assignment.person, date)
        if cover is None:
            reason = " ".join(readiness_of(assignment.person, date).words)
            withdrawn.append(withdraw(assignment, reason=reason[:300], now=now))
        else:
            assignment.delete()
            assignment.pk, assignment.clearance = None, cover
            again.append(assignment)
    return again, withdrawn


def outing_cancel(*, actor: User, outing: Outing, reason: str, now: datetime) -> None:
    """Cancel with a reason; everybody is withdrawn and the crew can be told."""
    reason = need_reason(reason)
    with transaction.atomic():
        locked = Outing.objects.select_for_update(of=("self",)).select_related("site").get(pk=outing.pk)
        if locked.cancelled_at is not None:
            raise Conflict(_("This outing is cancelled already."), code="outing-cancelled")
        if locked.date < locked.site.local_date(now):
            raise Conflict(_("This outing is over; its roster is history."), code="outing-over")
        for assignment in locked.assignments.select_related("crew", "person", "outing"):
            withdraw(assignment, reason=reason[:300], now=now)
        locked.cancelled_at, locked.cancel_reason = now, reason[:300]
        locked.save(update_fields=["cancelled_at", "cancel_reason"])
        audit_write(
            actor=actor,
            action="outing.cancelled",
            now=now,
            site=locked.site,
            target=f"outing:{locked.pk}",
            reason=reason,
        )
