"""The clinic's side of a case: referral and visit.

Whoever may report may refer here, as the bitten person and the crew lead have no page for it; the rest is the officer's
and the liaison's.
"""

from __future__ import annotations

from typing import ClassVar

from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.case import examples
from safety.api.case.incidents import REPORTERS
from safety.errors import Invalid
from safety.models import Clinic, Decision, Immunoglobulin, Incident, Referral, Visit
from safety.selectors.case.cases import incidents_followed_by, incidents_washed_by
from safety.selectors.clinic.clinics import clinics_of
from safety.services.case.referrals import referral_make
from safety.services.case.visits import visit_record
from staff.api.described import described
from staff.doors.api import LIAISON, OFFICER, Door, account, body
from staff.doors.api_fields import Choice, ColumnText, IsoDate, Shape, Whole
from staff.doors.retry import acting

FOLLOWERS = frozenset({OFFICER, LIAISON})


CONFIRMED = "The clinic's paper says so: keeps what would otherwise be asked back as odd by the record."


class ReferralIn(Shape):
    clinic = Whole()


class ReferralOut(serializers.Serializer[Referral]):
    id = serializers.IntegerField()
    incident = serializers.IntegerField(source="incident_id")
    clinic = serializers.IntegerField(source="clinic_id")
    referred_at = serializers.DateTimeField()


class VisitIn(Shape):
    clinic = Whole()
    visited_on = IsoDate()
    decision = Choice(Decision.choices, help_text="What the clinician decided.")
    clinician = ColumnText(Visit, "clinician", required=False, allow_blank=True)
    immunoglobulin = Choice(
        Immunoglobulin.choices, default=Immunoglobulin.UNKNOWN.value, help_text="As the clinic recorded it."
    )
    immunoglobulin_on = IsoDate(
        required=False, allow_null=True, help_text="Without it, given on the day of the visit."
    )
    immunoglobulin_amount = ColumnText(
        Visit,
        "immunoglobulin_amount",
        required=False,
        allow_blank=True,
        help_text="Exactly as the clinic wrote it.",
    )
    confirmed = serializers.BooleanField(default=False, help_text=CONFIRMED)
    note = ColumnText(Visit, "note", required=False, allow_blank=True)


class VisitOut(serializers.Serializer[Visit]):
    id = serializers.IntegerField()
    incident = serializers.IntegerField(source="incident_id")
    clinic = serializers.IntegerField(source="clinic_id")
    visited_on = serializers.DateField()
    clinician = serializers.CharField()
    decision = serializers.ChoiceField(choices=Decision.choices)
    immunoglobulin = serializers.ChoiceField(choices=Immunoglobulin.choices)
    immunoglobulin_on = serializers.DateField(allow_null=True)
    immunoglobulin_amount = serializers.CharField()
    note = serializers.CharField()


class ReferralDoor(Door):
    open_to: ClassVar = {"POST": REPORTERS}

    @described(
        name="incidents_referral",
        summary="Send the person to a clinic of the site",
        asks=ReferralIn,
        asked=examples.REFERRAL_ASKED,
        answer=ReferralOut,
        example=examples.REFERRAL,
        status=201,
        refusals=[404, 409],
    )
    def post(self, request: Request, pk: int) -> Response:
        user, now = account(request), timezone.now()
        incident = get_object_or_404(incidents_washed_by(user), pk=pk)
        clinic = _clinic(incident, body(request, ReferralIn)["clinic"])
        made = acting(referral_make, actor=user, incident=incident, clinic=clinic, now=now)
        return Response(ReferralOut(made).data, status=201)


class VisitDoor(Door):
    open_to: ClassVar = {"POST": FOLLOWERS}

    @described(
        name="incidents_visit",
        summary="Record a clinic visit and what the clinician decided",
        asks=VisitIn,
        asked=examples.VISIT_ASKED,
        answer=VisitOut,
        example=examples.VISIT,
        status=201,
        refusals=[404, 409],
    )
    def post(self, request: Request, pk: int) -> Response:
        user, now = account(request), timezone.now()
        incident = get_object_or_404(incidents_followed_by(user), pk=pk)
        asked = body(request, VisitIn)
        clinic = _clinic(incident, asked.pop("clinic"))
        made = acting(visit_record, actor=user, incident=incident, clinic=clinic, now=now, **asked)
        return Response(VisitOut(made).data, status=201)


def _clinic(incident: Incident, pk: int) -> Clinic:
    clinic = clinics_of(incident.site).filter(pk=pk).first()
    if clinic is None:
        known = ", ".join(f"{each.pk} ({each.name})" for each in clinics_of(incident.site))
        raise Invalid({"clinic": _("Give a clinic of this site's list: %(known)s.") % {"known": known}})
    return clinic
