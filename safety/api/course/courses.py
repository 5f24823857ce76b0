"""The course the clinician ordered."""

from __future__ import annotations

from typing import ClassVar

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.case import examples
from safety.api.case.clinic_side import FOLLOWERS
from safety.models import Course
from safety.selectors.case.cases import incidents_followed_by
from safety.services.course.course import course_start
from safety.services.course.course_checks import regimen_named
from staff.api.described import described
from staff.api.regimen.schedule import PlannedStepOut
from staff.doors.api import Door, account, body
from staff.doors.api_fields import ColumnText, IsoDate, Shape, Whole
from staff.doors.retry import acting
from staff.models import LateRuleChoice, Regimen


class CourseIn(Shape):
    regimen = ColumnText(Regimen, "code", help_text="Code of a regimen the site's authority has approved.")
    version = Whole(highest=32767, required=False, help_text="Without it the newest that is approved.")
    starts_on = IsoDate(help_text="Date the first dose is expected on; day 0 is the date it is given.")
    confirmed = serializers.BooleanField(
        default=True,
        help_text="false: a regimen the table has for somebody else than the record shows is asked back.",
    )


class CourseOut(serializers.Serializer[Course]):
    id = serializers.IntegerField()
    incident = serializers.IntegerField(source="incident_id")
    regimen = serializers.CharField(source="regimen.code")
    version = serializers.IntegerField(source="regimen.version")
    regimen_name = serializers.CharField(source="name")
    late_rule = serializers.ChoiceField(choices=LateRuleChoice.choices)
    starts_on = serializers.DateField()
    ended_on = serializers.DateField(allow_null=True)
    steps = PlannedStepOut(
        source="planned_doses", many=True, help_text="Computed in the background; empty until then."
    )


class CourseDoor(Door):
    open_to: ClassVar = {"POST": FOLLOWERS}

    @described(
        name="incidents_course",
        summary="Record the course the clinician ordered",
        asks=CourseIn,
        asked=examples.COURSE_ASKED,
        answer=CourseOut,
        example=examples.COURSE,
        status=201,
        refusals=[404, 409],
    )
    def post(self, request: Request, pk: int) -> Response:
        user, now = account(request), timezone.now()
        incident = get_object_or_404(incidents_followed_by(user), pk=pk)
        asked = body(request, CourseIn)
        regimen = regimen_named(incident, asked["regimen"], asked.get("version"))
        made = acting(
            course_start,
            actor=user,
            incident=incident,
            regimen=regimen,
            starts_on=asked["starts_on"],
            confirmed=asked["confirmed"],
            now=now,
        )
        return Response(CourseOut(made).data, status=201)
