"""A case to read and what it needs; a report is answered with the same."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.case import examples
from safety.models import Incident, Kind
from safety.rules.case.needs import NeedCode
from safety.selectors.case.cases import incidents_visible_to
from safety.selectors.case.need import Need
from safety.selectors.case.needs import needs_of, with_needs
from safety.services.case.incidents import Reported
from safety.words import caution_words
from staff.api.described import described
from staff.doors.api import LIAISON, MEMBER, OFFICER, Door, account
from staff.models import User
from staff.services.audit import audit_look


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


def report_answer(reported: Reported, reporter: User, now: datetime) -> dict[str, Any]:
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
