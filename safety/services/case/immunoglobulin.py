"""Immunoglobulin as the clinic recorded it: what is checked and asked back, and what became of it later."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid, Unconfirmed
from safety.letter.facts import letter_facts
from safety.models import Immunoglobulin, Incident, Visit
from safety.rules.case.immunoglobulin import ImmunoglobulinDoubt, immunoglobulin_doubts, last_day_for
from safety.services.case.case_dates import check_since_incident
from safety.services.case.closing import lock_open_case
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import Dose, User
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason
from staff.services.record.own_record import need_somebody_else

# With a reason it fits into what is kept of a visit.
SAID_BY_LENGTH = 120


@dataclass(frozen=True)
class Gift:
    """What the clinic's paper says: the answer, the date (None: the day of the visit) and the amount as written."""

    answer: str = Immunoglobulin.UNKNOWN
    given_on: date | None = None
    amount: str = ""

    @property
    def given(self) -> bool:
        return self.answer == Immunoglobulin.GIVEN


def check_gift(incident: Incident, gift: Gift, now: datetime) -> None:
    """Raises `Invalid` for answers that contradict each other or a date that can't be."""
    if gift.answer not in Immunoglobulin.values:
        raise Invalid({"immunoglobulin": _("Choose what the clinic's paper says of immunoglobulin.")})
    if not gift.given and (gift.given_on or gift.amount):
        words = _("A date and an amount go with immunoglobulin that was given; check the answers.")
        raise Invalid({"immunoglobulin": words})
    within(gift.amount, Visit, "immunoglobulin_amount")
    if gift.given_on is not None:
        today = incident.site.local_date(now)
        check_since_incident(incident, "immunoglobulin_on", gift.given_on, today)


def gift_doubts(
    incident: Incident,
    gift: Gift,
    *,
    now: datetime,
    leaving_out: Visit | None = None,
    first_dose_on: date | None = None,
) -> list[str]:
    """Sentences about a gift that is odd by the record; `gift.given_on` is known. Nothing is odd about none given.

    `leaving_out` is the visit the gift belongs to; `first_dose_on` a dose that is being recorded with it.
    """
    if not gift.given or gift.given_on is None:
        return []
    record = letter_facts(incident, None, now).record
    others = incident.visits.filter(immunoglobulin=Immunoglobulin.GIVEN)
    if leaving_out is not None:
        others = others.exclude(pk=leaving_out.pk)
    first = min((day for day in (first_dose_on, first_dose_given(incident)) if day), default=None)
    before = [visit.immunoglobulin_on or visit.visited_on for visit in others]
    found = immunoglobulin_doubts(
        given_on=gift.given_on,
        first_dose_on=first,
        given_before=before,
        complete_on=record.complete_on,
        immunocompromised=record.immunocompromised,
    )
    return [_doubt_words(doubt, first, before) for doubt in found]


def _doubt_words(doubt: ImmunoglobulinDoubt, first: date | None, before: list[date]) -> str:
    if doubt is ImmunoglobulinDoubt.IMMUNISED:
        return _("The record has a complete series, and tables ask for none then.")
    if doubt is ImmunoglobulinDoubt.TWICE:
        return _("Immunoglobulin is on record already, on %(day)s, and tables give it once.") % {
            "day": date_format(before[0], "DATE_FORMAT")
        }
    last_day = last_day_for(first)
    return _("Tables give it up to day 7 after the first dose, which was %(day)s.") % {
        "day": date_format(last_day, "DATE_FORMAT") if last_day else ""
    }


def first_dose_given(incident: Incident) -> date | None:
    """The first dose that stands of any course of this exposure."""
    rows = Dose.objects.filter(course_key__in=incident.courses.values("key")).order_by("given_on")
    return rows.values_list("given_on", flat=True).first()


def need_confirmed(doubts: list[str], *, confirmed: bool) -> None:
    """Raises `Unconfirmed` for doubts nobody has confirmed from the clinic's paper."""
    if doubts and not confirmed:
        look = _("Look at the clinic's paper again, or ring the clinic. If it says so, tick this.")
        raise Unconfirmed({"immunoglobulin": " ".join(doubts), "confirmed": look})


def _need_said_by(said_by: str) -> str:
    said = said_by.strip()
    if not said:
        raise Invalid({"said_by": _("Write down who said so.")})
    if len(said) > SAID_BY_LENGTH:
        raise Invalid(
            {
                "said_by": _("Write down who said so in at most %(most)d characters.")
                % {"most": SAID_BY_LENGTH}
            }
        )
    return said


@retried
def immunoglobulin_settle(
    *,
    actor: User,
    visit: Visit,
    gift: Gift,
    said_by: str,
    reason: str,
    now: datetime,
    confirmed: bool = False,
) -> None:
    """Record what became of immunoglobulin that wasn't available, or that nobody knew of, at a visit.

    Given since, not available still, or the clinician does without: who said so and a reason stay with it. Raises
    `Conflict` for a visit whose answer is known already, `NotAllowed` for one's own.
    """
    reason, said_by = need_reason(reason), _need_said_by(said_by)
    if gift.answer == Immunoglobulin.UNKNOWN:
        raise Invalid({"immunoglobulin": _("Choose what became of it.")})
    if gift.given and gift.given_on is None:
        raise Invalid({"immunoglobulin_on": _("Write down the date on which it was given.")})
    incident = visit.incident
    check_gift(incident, gift, now)
    open_answers = (Immunoglobulin.UNAVAILABLE, Immunoglobulin.UNKNOWN)
    with transaction.atomic():
        lock_open_case(incident)
        need_somebody_else(actor=actor, person=incident.person)
        need_confirmed(gift_doubts(incident, gift, now=now, leaving_out=visit), confirmed=confirmed)
        changed = Visit.objects.filter(pk=visit.pk, immunoglobulin__in=open_answers).update(
            immunoglobulin=gift.answer,
            immunoglobulin_on=gift.given_on,
            immunoglobulin_amount=gift.amount,
            immunoglobulin_said=f"{said_by}: {reason}",
        )
        if changed != 1:
            message = _("What was given at this visit is recorded already; void the visit if that is wrong.")
            raise Conflict(message, code="immunoglobulin-recorded")
        audit_write(
            actor=actor,
            action="immunoglobulin.settled",
            now=now,
            person=incident.person,
            target=incident.reference,
            answer=str(gift.answer),
            was=str(visit.immunoglobulin),
            said_by=said_by,
            reason=reason,
        )


def at_visit(gift: Gift, visited_on: date) -> Gift:
    """A gift without a date of its own was given on the day of the visit."""
    return replace(gift, given_on=gift.given_on or visited_on) if gift.given else gift
