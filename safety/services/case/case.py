"""The clinic's side: referral, visit and the clinician's decision. Courses are in safety.services.course.course."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.errors import Conflict, Invalid
from safety.models import Clinic, Decision, EndKind, Immunoglobulin, Incident, Referral, Visit
from safety.notices.case.report import REPORTS
from safety.selectors.case.case_facts import clinic_has_seen, first_seen_on
from safety.services.case.case_dates import check_since_incident
from safety.services.case.closing import hold_open
from safety.services.case.immunoglobulin import Gift, at_visit, check_gift, gift_doubts, need_confirmed
from safety.services.case.incidents import hold_source, incident_hold
from safety.services.course.course import need_own_clinic
from safety.services.notices.notices import notices_tell
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import Hold, User
from staff.services.audit import audit_write
from staff.services.record.own_record import need_somebody_else
from staff.services.record.records import hold_release
from staff.services.voiding import Voiding, VoidRule, void


@retried
def referral_make(*, actor: User, incident: Incident, clinic: Clinic, now: datetime) -> Referral:
    """Send the person to a clinic of the site; more than one referral is allowed."""
    need_own_clinic(incident, clinic)
    with transaction.atomic():
        hold_open(incident)
        referral = Referral.objects.create(
            incident=incident, clinic=clinic, referred_at=now, referred_by=actor
        )
        audit_write(
            actor=actor, action="referral.made", now=now, person=incident.person, target=incident.reference
        )
    return referral


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
            hold_open(incident)
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
            _release_if_seen(actor, incident, visited_on, now)
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
        hold_open(visit.incident)
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


def _release_if_seen(actor: User, incident: Incident, last_day: date, now: datetime) -> None:
    """A visit of before a late report answers nothing that is known now: the hold stays."""
    # Read anew: the caller's row may have been read before this visit, or before the report.
    if clinic_has_seen(Incident.objects.select_related("site").get(pk=incident.pk)):
        _release(actor, incident, last_day, now)


def _release(actor: User, incident: Incident, last_day: date, now: datetime) -> None:
    for hold in Hold.objects.filter(source=hold_source(incident), released_at__isnull=True):
        hold_release(actor=actor, hold=hold, last_day=last_day, note=_("Clinic visit recorded."), now=now)


def _need_no_course(incident: Incident) -> None:
    """A course rests on a visit that decided for one; the last such visit isn't voided under it."""
    if incident.visits.filter(decision=Decision.COURSE).exists():
        return
    if incident.courses.exclude(end_kind=EndKind.ERROR).exists():
        message = _(
            "A course rests on this visit. Record the right visit first, or end the course as entered in error."
        )
        raise Conflict(message, code="course-rests")


def _hold_again(actor: User, incident: Incident, now: datetime) -> None:
    """Nobody stays clear on the strength of a voided visit: the hold lasts through the first that stands."""
    first_on = first_seen_on(incident)
    if first_on is None:
        incident_hold(incident, actor, now)
        return
    holds = Hold.objects.filter(source=hold_source(incident), person=incident.person)
    ended_on = holds.aggregate(last=Max("ends_on"))["last"]
    if ended_on is not None and ended_on < first_on:
        incident_hold(incident, actor, now, anew=True)
        _release(actor, incident, first_on, now)


def _about(row: Referral | Visit) -> dict[str, Any]:
    return {"person": row.incident.person, "target": row.incident.reference, "row": row.pk}


REFERRAL_VOID = VoidRule(
    model=Referral,
    action="referral.voided",
    twice=gettext_lazy("This referral is voided already."),
    hold=lambda act: hold_open(act.row.incident),
    about=_about,
    # The next step of the case follows from the referrals that stand.
    follow=lambda _act, _held: None,
)


def referral_void(*, actor: User, referral: Referral, reason: str, now: datetime) -> None:
    """Mark a referral as entered in error; it stays readable and counts nowhere. Refuses as `void` does, and in a
    closed case."""
    void(actor=actor, row=referral, reason=reason, now=now, rule=REFERRAL_VOID)


def _hold_visit(act: Voiding[Visit]) -> Incident:
    hold_open(act.row.incident)
    incident = Incident.objects.select_related("site__rules", "person").get(pk=act.row.incident_id)
    need_somebody_else(actor=act.actor, person=incident.person)
    return incident


def _unseen_again(act: Voiding[Visit], incident: Incident) -> None:
    _need_no_course(incident)
    _hold_again(act.actor, incident, act.now)
    notices_tell(origin=REPORTS, subject=incident, now=act.now)


VISIT_VOID = VoidRule(
    model=Visit,
    action="visit.voided",
    twice=gettext_lazy("This visit is voided already."),
    hold=_hold_visit,
    about=_about,
    follow=_unseen_again,
)


def visit_void(*, actor: User, visit: Visit, reason: str, now: datetime) -> None:
    """Mark a visit as entered in error; it stays readable and counts nowhere.

    The person is held again until a visit that stands: without any, from the exposure on. Refuses as `void` does,
    while a course rests on it, in a closed case, and for one's own.
    """
    void(actor=actor, row=visit, reason=reason, now=now, rule=VISIT_VOID)
