"""Reporting what happened. The key is made where the report is written; sent again it finds the same row."""

from __future__ import annotations

import re
import uuid
from datetime import datetime
from typing import Any, ClassVar

from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.case import examples
from safety.errors import Invalid
from safety.models import Animal, Answer, BodySite, Cause, ContactKind, Incident, Kind, Task
from safety.rules.case.needs import NeedCode
from safety.selectors.case.cases import incidents_visible_to, reportable_people
from safety.selectors.case.need import Need
from safety.selectors.case.needs import needs_of, with_needs
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.incidents import Reported
from safety.services.case.typed_reports import incident_report
from safety.words import caution_words
from staff.api.described import described
from staff.doors.api import LEAD, LIAISON, MEMBER, OFFICER, Door, account, body
from staff.doors.api_fields import Choice, Instant, Many, Shape, Text, Whole
from staff.doors.retry import acting
from staff.models import Outing, Person, User
from staff.selectors.access import outings_visible_to, own_person
from staff.services.audit import audit_look

# Visible ASCII, with or without the quotes of a structured header.
_KEY = re.compile(r'"?([!#-~]{1,200})"?')
REPORTERS = frozenset({OFFICER, LIAISON, LEAD, MEMBER})


class WoundIn(Shape):
    contact = Choice(ContactKind.choices, default=ContactKind.UNKNOWN.value)
    body_site = Choice(BodySite.choices, default=BodySite.UNKNOWN.value)
    broke_skin = Choice(Answer.choices, default=Answer.UNKNOWN.value)
    bled = Choice(Answer.choices, default=Answer.UNKNOWN.value)


class IncidentIn(Shape):
    person = Whole(required=False, help_text="Who it happened to; without it yourself.")
    kind = Choice(Kind.choices)
    happened_at = Instant()
    animal = Choice(Animal.choices, default=Animal.UNKNOWN.value)
    task = Choice(Task.choices, default=Task.UNKNOWN.value)
    causes = Many(child=Choice(Cause.choices), longest=20, required=False)
    wounds = Many(child=WoundIn(), longest=20, required=False)
    washed_minutes = Whole(
        lowest=0,
        highest=180,
        required=False,
        allow_null=True,
        help_text="0: not washed. Null or not given: not recorded.",
    )
    soap = Choice(Answer.choices, default=Answer.UNKNOWN.value)
    narrative = Text(longest=2000, required=False, allow_blank=True, default="")
    outing = Whole(required=False, help_text="The outing it happened on.")


class NeedOut(serializers.Serializer[Any]):
    code = serializers.ChoiceField(choices=[(code.value, code.value) for code in NeedCode])
    words = serializers.CharField(help_text="A sentence in the reader's language.")
    due_on = serializers.DateField(allow_null=True)
    late = serializers.BooleanField(help_text="A dose is late only after its window.")


class NextStepOut(serializers.Serializer[Any]):
    """The same as `needs`, under the names of before."""

    code = serializers.CharField()
    words = serializers.CharField()
    due_on = serializers.DateField(allow_null=True)
    overdue = serializers.BooleanField(source="late")


class IncidentOut(serializers.Serializer[Any]):
    """A case in short. A crew lead who reports for somebody else is told no needs: the case isn't theirs."""

    id = serializers.IntegerField()
    key = serializers.UUIDField()
    reference = serializers.CharField()
    site = serializers.CharField()
    person = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=Kind.choices)
    happened_at = serializers.DateTimeField()
    reported_at = serializers.DateTimeField()
    path = serializers.CharField(help_text="Page of the case.")
    needs = NeedOut(many=True, help_text="What the case needs now, most urgent first.")
    next_steps = NextStepOut(many=True)
    authority = serializers.CharField()
    emergency_number = serializers.CharField()
    caution = serializers.CharField()


class IncidentsDoor(Door):
    """The same key with the same body answers 201 with the same row each time, so that a repeat needs no other code."""

    open_to: ClassVar = {"POST": REPORTERS}

    @described(
        name="incidents_report",
        summary="Report what happened; sent again under the same key it is the same row",
        asks=IncidentIn,
        asked=examples.INCIDENT_ASKED,
        answer=IncidentOut,
        example=examples.INCIDENT,
        status=201,
        parameters=[
            OpenApiParameter(
                "Idempotency-Key",
                str,
                OpenApiParameter.HEADER,
                required=True,
                description="Made once for each report, best a UUID; at most 200 visible characters.",
            )
        ],
        refusals=[409, 422],
    )
    def post(self, request: Request) -> Response:
        reporter, now = account(request), timezone.now()
        key = report_key(request.headers.get("Idempotency-Key", ""), reporter)
        asked = body(request, IncidentIn)
        person = _person(reporter, asked.pop("person", None))
        reported = acting(
            incident_report,
            actor=reporter,
            person=person,
            key=key,
            outing=_outing(reporter, person, asked.pop("outing", None)),
            report=_report(asked),
            now=now,
        )
        return Response(IncidentOut(_answer(reported, reporter, now)).data, status=201)


class IncidentDoor(Door):
    open_to: ClassVar = {"GET": frozenset({OFFICER, LIAISON, MEMBER})}

    @described(
        name="incidents_read",
        summary="A case and what it needs now",
        answer=IncidentOut,
        example=examples.INCIDENT,
        refusals=[404],
    )
    def get(self, request: Request, reference: str) -> Response:
        reader, now = account(request), timezone.now()
        incident = get_object_or_404(with_needs(incidents_visible_to(reader)), reference=reference)
        audit_look(viewer=reader, person=incident.person, now=now, target=incident.reference)
        return Response(IncidentOut(_shown(incident, needs_of(incident, now))).data)


def report_key(header: str, reporter: User) -> uuid.UUID:
    """A UUID is taken as it is, so that phone and program share it; any other text is a key of this account alone."""
    given = _KEY.fullmatch(header.strip())
    if given is None:
        words = _("Send the header Idempotency-Key: a UUID made once for this report and kept for every try.")
        raise Invalid({"Idempotency-Key": words})
    try:
        return uuid.UUID(given[1])
    except ValueError:
        return uuid.uuid5(uuid.NAMESPACE_OID, f"report:{reporter.pk}:{given[1]}")


def _person(reporter: User, pk: int | None) -> Person:
    person = own_person(reporter) if pk is None else reportable_people(reporter).filter(pk=pk).first()
    if person is None:
        raise Invalid({"person": _("Give the id of a person you may report for; see /api/v1/clearance/.")})
    return person


def _outing(reporter: User, person: Person, pk: int | None) -> Outing | None:
    if pk is None:
        return None
    outing = outings_visible_to(reporter).filter(pk=pk, site=person.site_id).first()
    if outing is None:
        raise Invalid({"outing": _("Give the id of an outing of this person's site; see /api/v1/outings/.")})
    return outing


def _report(asked: dict[str, Any]) -> IncidentReport:
    wounds = tuple(WoundReport(**wound) for wound in asked.pop("wounds", ()))
    return IncidentReport(wounds=wounds, causes=tuple(asked.pop("causes", ())), **asked)


def _answer(reported: Reported, reporter: User, now: datetime) -> dict[str, Any]:
    incident: Incident = reported.incident
    seen = incidents_visible_to(reporter).filter(pk=incident.pk).first()
    if seen is not None and not reported.made:
        audit_look(viewer=reporter, person=seen.person, now=now, target=seen.reference)
    return _shown(incident, needs_of(seen, now) if seen is not None else ())


def _shown(incident: Incident, needs: tuple[Need, ...]) -> dict[str, Any]:
    return {
        "id": incident.pk,
        "key": incident.key,
        "reference": incident.reference,
        "site": incident.site.code,
        "person": incident.person_id,
        "kind": incident.kind,
        "happened_at": incident.happened_at,
        "reported_at": incident.reported_at,
        "path": f"/cases/{incident.reference}/",
        "needs": needs,
        "next_steps": needs,
        "authority": incident.site.authority,
        "emergency_number": incident.site.emergency_number,
        "caution": caution_words(),
    }
