"""The minutes under the tap: a spell that is over, or the clock started and stopped."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.case import examples
from safety.api.case.incidents import REPORTERS
from safety.errors import Invalid
from safety.models import Answer, Incident
from safety.rules.case.washing import WashState
from safety.selectors.case.cases import incidents_washed_by, washing_of
from safety.services.case.washing import wash_add, wash_start, wash_stop
from staff.api.described import described
from staff.doors.api import Door, account, body
from staff.doors.api_fields import Choice, Instant, Shape
from staff.doors.retry import acting
from staff.models import User

START, STOP = "start", "stop"


class WashingIn(Shape):
    """Both instants for a spell that is over; or `clock`: start (now, or at `started_at`), stop (now, with `soap`)."""

    clock = Choice([START, STOP], required=False)
    started_at = Instant(required=False)
    stopped_at = Instant(required=False)
    soap = Choice(Answer.choices, default=Answer.UNKNOWN.value)


class WashingOut(serializers.Serializer[Any]):
    """All spells of the case added up; one that still runs counts up to now, and never as reached."""

    incident = serializers.IntegerField()
    state = serializers.ChoiceField(choices=[state.value for state in WashState])
    seconds = serializers.IntegerField()
    short_seconds = serializers.IntegerField()
    target_seconds = serializers.IntegerField()
    soap = serializers.ChoiceField(choices=Answer.choices)


class WashingDoor(Door):
    open_to: ClassVar = {"POST": REPORTERS}

    @described(
        name="incidents_washing",
        summary="Write down washing, or start and stop the wash clock",
        asks=WashingIn,
        asked=examples.WASHING_ASKED,
        answer=WashingOut,
        example=examples.WASHING,
        status=201,
        refusals=[404, 409],
    )
    def post(self, request: Request, pk: int) -> Response:
        washer, now = account(request), timezone.now()
        incident = get_object_or_404(incidents_washed_by(washer), pk=pk)
        _write(washer, incident, body(request, WashingIn), now)
        washing = washing_of(incidents_washed_by(washer).get(pk=pk), now)
        answer = {
            "incident": incident.pk,
            "state": washing.state.value,
            "seconds": washing.seconds,
            "short_seconds": washing.short_seconds,
            "target_seconds": incident.site.rules.wash_minutes * 60,
            "soap": washing.soap.value,
        }
        return Response(WashingOut(answer).data, status=201)


def _write(washer: User, incident: Incident, said: dict[str, Any], now: datetime) -> None:
    clock, started_at, stopped_at = said.get("clock"), said.get("started_at"), said.get("stopped_at")
    if clock == STOP and not (started_at or stopped_at):
        acting(wash_stop, actor=washer, incident=incident, soap=said["soap"], now=now)
    elif clock == START and not stopped_at and said["soap"] == Answer.UNKNOWN:
        acting(wash_start, actor=washer, incident=incident, started_at=started_at, now=now)
    elif clock is None and started_at and stopped_at:
        acting(
            wash_add,
            actor=washer,
            incident=incident,
            started_at=started_at,
            stopped_at=stopped_at,
            soap=said["soap"],
            now=now,
        )
    else:
        words = _(
            "Give started_at and stopped_at of a spell that is over, or clock: “start” (with started_at or "
            "without, soap is said at the end) or “stop” (with soap)."
        )
        raise Invalid({"clock": words})
