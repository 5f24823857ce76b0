"""The doses of a course."""

from __future__ import annotations

from typing import Any, ClassVar

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.case import examples
from safety.api.case.clinic_side import CONFIRMED, FOLLOWERS
from safety.selectors.case.cases import courses_followed_by
from safety.services.course.course_doses import course_dose_record
from staff.api.described import described
from staff.doors.api import Door, account, body
from staff.doors.api_fields import Choice, ColumnText, IsoDate, Shape, Whole
from staff.doors.retry import acting
from staff.models import Dose, Route


class DoseIn(Shape):
    given_on = IsoDate()
    route = Choice(Route.choices, required=False)
    injections = Whole(highest=20, required=False, allow_null=True)
    product = ColumnText(Dose, "product", required=False, allow_blank=True)
    batch = ColumnText(Dose, "batch", required=False, allow_blank=True)
    place = ColumnText(Dose, "place", required=False, allow_blank=True)
    confirmed = serializers.BooleanField(default=False, help_text=CONFIRMED)


class DoseOut(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    course = serializers.IntegerField()
    given_on = serializers.DateField()
    route = serializers.CharField(help_text="IM, ID or empty when it isn't known.")
    injections = serializers.IntegerField(allow_null=True)
    product = serializers.CharField()
    batch = serializers.CharField()
    place = serializers.CharField()


class CourseDosesDoor(Door):
    open_to: ClassVar = {"POST": FOLLOWERS}

    @described(
        name="courses_dose",
        summary="Record a dose given; the dates of the rest follow in the background",
        asks=DoseIn,
        asked=examples.DOSE_ASKED,
        answer=DoseOut,
        example=examples.DOSE,
        status=201,
        refusals=[404, 409],
    )
    def post(self, request: Request, pk: int) -> Response:
        user, now = account(request), timezone.now()
        course = get_object_or_404(courses_followed_by(user), pk=pk)
        made = acting(course_dose_record, actor=user, course=course, now=now, **body(request, DoseIn))
        made.course = course.pk  # type: ignore[attr-defined]
        return Response(DoseOut(made).data, status=201)
