"""A clinic visit and what the clinician decided there. Courses are in safety.services.course.course."""

from __future__ import annotations

from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import Clinic, Decision, Immunoglobulin, Incident, Visit
from safety.services.case.case_dates import check_since_incident
from safety.services.case.closing import lock_open_case
from safety.services.case.exposure_hold import release_if_seen
from safety.services.case.immunoglobulin import Gift, at_visit, check_gift, gift_doubts, need_confirmed
from safety.services.clinic.clinics import need_own_clinic
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import User
from staff.services.audit import audit_write
from staff.services.record.own_record import need_somebody_else


@retried
def visit_record(
    *,
    actor: User,
    incident: Incident,
    clinic: Clinic,
    visited_on: date,
    decision: str,
    now: datetime,
    clinician: str = "",
    immunoglobulin: str = Immunoglobulin.UNKNOWN,
    immunoglobulin_on: date | None = None,
    immunoglobulin_amount: str = "",
    note: str = "",
    next_on: date | None = None,
    confirmed: bool = False,
) -> Visit:
    """Record a visit and the clinician's decision; ends the hold the exposure placed, through the day of the visit.

    Hence nobody records their own: raises `NotAllowed`. Immunoglobulin that is odd by the record is asked back with
    `Unconfirmed`, unless it is `confirmed` that the clinic's paper says so.
    """
    need_own_clinic(incident, clinic)
    check_since_incident(incident, "visited_on", visited_on, incident.site.local_date(now))
    gift, note = Gift(immunoglobulin, immunoglobulin_on, immunoglobulin_amount), within(note, Visit, "note")
    clinician = within(clinician, Visit, "clinician")
    check_gift(incident, gift, now)
    if decision not in Decision.values:
        raise Invalid({"decision": _("Choose what the clinician decided, or “not decided yet”.")})
    try:
        with transaction.atomic():
            lock_open_case(incident)
            need_somebody_else(actor=actor, person=incident.person)
            need_confirmed(gift_doubts(incident, at_visit(gift, visited_on), now=now), confirmed=confirmed)
            visit = Visit.objects.create(
                incident=incident,
                clinic=clinic,
                visited_on=visited_on,
                clinician=clinician,
                decision=decision,
                immunoglobulin=immunoglobulin,
                immunoglobulin_on=immunoglobulin_on,
                immunoglobulin_amount=gift.amount,
                note=note,
                next_on=next_on,
                recorded_by=actor,
                recorded_at=now,
            )
            audit_write(
                actor=actor,
                action="visit.recorded",
                now=now,
                person=incident.person,
                target=incident.reference,
            )
            release_if_seen(actor, incident, visited_on, now)
    except IntegrityError as error:
        message = _("A visit to this clinic on that day is recorded already.")
        raise Conflict(message, code="visit-on-record", fields={"visited_on": message}) from error
    return visit


@retried
def visit_decide(
    *,
    actor: User,
    visit: Visit,
    decision: str,
    now: datetime,
    immunoglobulin: str = Immunoglobulin.UNKNOWN,
    immunoglobulin_on: date | None = None,
    immunoglobulin_amount: str = "",
    confirmed: bool = False,
) -> None:
    """Record the decision of a visit that had none yet; one that was recorded is never changed.

    Nobody records their own: raises `NotAllowed`.
    """
    if decision not in Decision.values or decision == Decision.PENDING:
        raise Invalid({"decision": _("Choose what the clinician decided.")})
    gift, said = Gift(immunoglobulin, immunoglobulin_on, immunoglobulin_amount), {}
    check_gift(visit.incident, gift, now)
    if immunoglobulin != Immunoglobulin.UNKNOWN:
        said = {
            "immunoglobulin": immunoglobulin,
            "immunoglobulin_on": immunoglobulin_on,
            "immunoglobulin_amount": gift.amount,
        }
    with transaction.atomic():
        lock_open_case(visit.incident)
        need_somebody_else(actor=actor, person=visit.incident.person)
        doubts = gift_doubts(visit.incident, at_visit(gift, visit.visited_on), now=now, leaving_out=visit)
        need_confirmed(doubts, confirmed=confirmed)
        changed = Visit.objects.filter(pk=visit.pk, decision=Decision.PENDING).update(
            decision=decision, **said
        )
        if changed != 1:
            raise Conflict(
                _("The decision of this visit is recorded already; record a further visit instead."),
                code="visit-decided",
            )
        audit_write(
            actor=actor,
            action="visit.decided",
            now=now,
            person=visit.incident.person,
            target=visit.incident.reference,
            decision=decision,
        )
