"""The animal of a case: begin to watch it, and what a day's check saw."""

from __future__ import annotations

from typing import ClassVar

from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.animal import examples_animal as examples
from safety.api.case.clinic_side import FOLLOWERS
from safety.errors import Conflict
from safety.models import AnimalCheck, Observation, Seen
from safety.selectors.animal.observation import observation_of
from safety.selectors.case.cases import incidents_followed_by
from safety.services.animal.observation import check_record, observation_begin
from staff.api.described import described
from staff.doors.api import Door, account, body
from staff.doors.api_fields import Choice, ColumnText, IsoDate, Shape
from staff.doors.retry import acting


class ObservationIn(Shape):
    described = ColumnText(
        Observation, "described", help_text="Which dog or cat it is, so that everybody watches the same one."
    )
    where = ColumnText(Observation, "where", required=False, allow_blank=True)
    keeper = ColumnText(Observation, "keeper", required=False, allow_blank=True)
    keeper_phone = ColumnText(Observation, "keeper_phone", required=False, allow_blank=True)


class ObservationOut(serializers.Serializer[Observation]):
    id = serializers.IntegerField()
    incident = serializers.IntegerField(source="incident_id")
    described = serializers.CharField()
    first_on = serializers.DateField(help_text="The day of the exposure, day 0, in the site's calendar.")
    last_on = serializers.DateField(help_text="The last day, by the site's rule.")


class CheckIn(Shape):
    day = IsoDate(help_text="A day of the site's calendar, from the exposure up to today.")
    seen = Choice(Seen.choices, help_text="Of several checks of a day the newest counts.")
    note = ColumnText(AnimalCheck, "note", required=False, allow_blank=True)


class CheckOut(serializers.Serializer[AnimalCheck]):
    id = serializers.IntegerField()
    observation = serializers.IntegerField(source="observation_id")
    day = serializers.DateField()
    seen = serializers.ChoiceField(choices=Seen.choices)
    note = serializers.CharField()


class ObservationDoor(Door):
    open_to: ClassVar = {"POST": FOLLOWERS}

    @described(
        name="incidents_observation",
        summary="Begin to watch the dog or cat of a case; it never delays the first dose",
        asks=ObservationIn,
        asked=examples.OBSERVATION_ASKED,
        answer=ObservationOut,
        example=examples.OBSERVATION,
        status=201,
        refusals=[404, 409],
    )
    def post(self, request: Request, pk: int) -> Response:
        user, now = account(request), timezone.now()
        incident = get_object_or_404(incidents_followed_by(user), pk=pk)
        made = acting(
            observation_begin, actor=user, incident=incident, now=now, **body(request, ObservationIn)
        )
        return Response(ObservationOut(made).data, status=201)


class AnimalChecksDoor(Door):
    open_to: ClassVar = {"POST": FOLLOWERS}

    @described(
        name="incidents_observation_check",
        summary="Record how the watched animal was on one day",
        asks=CheckIn,
        asked=examples.CHECK_ASKED,
        answer=CheckOut,
        example=examples.CHECK,
        status=201,
        refusals=[404, 409],
    )
    def post(self, request: Request, pk: int) -> Response:
        user, now = account(request), timezone.now()
        incident = get_object_or_404(incidents_followed_by(user), pk=pk)
        asked = body(request, CheckIn)
        observation = observation_of(incident)
        if observation is None:
            raise Conflict(
                _("No animal is watched for this case; begin that first."), code="animal-not-watched"
            )
        made = acting(check_record, observation=observation, actor=user, now=now, **asked)
        return Response(CheckOut(made).data, status=201)
