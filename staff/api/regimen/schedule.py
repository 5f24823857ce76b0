"""The dates of a regimen from a day 0, computed and stored nowhere."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, ClassVar

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from staff.api import examples
from staff.api.described import described
from staff.api.regimen.regimens import VersionQuery, regimen_asked
from staff.doors.api import ANYONE, Door, body
from staff.doors.api_fields import Choice, IsoDate, Many, Shape, Whole
from staff.models import LateRuleChoice
from staff.rules.regimen.schedule import plan_schedule
from staff.rules.regimen.values import LateRule


class ScheduleIn(Shape):
    day_zero = IsoDate(help_text="Date on which the first dose was or will be given.")
    given = Many(child=IsoDate(), longest=50, required=False, help_text="Dates of the doses given so far.")
    late_rule = Choice(LateRuleChoice.choices, default=LateRule.KEEP_GAPS.value)
    restart_after_days = Whole(
        highest=365, required=False, allow_null=True, help_text="Needed with the rule “restart”."
    )


class PlannedStepOut(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    day = serializers.IntegerField()
    due_on = serializers.DateField()
    latest_on = serializers.DateField()
    given_on = serializers.DateField(allow_null=True)
    days_late = serializers.IntegerField()
    injections = serializers.IntegerField()


class ScheduleOut(serializers.Serializer[Any]):
    steps = PlannedStepOut(many=True)
    complete_on = serializers.DateField()


class ScheduleDoor(Door):
    open_to: ClassVar = {"POST": frozenset({ANYONE})}

    @described(
        name="regimens_schedule",
        summary="Compute the dates of a course; stores nothing",
        asks=ScheduleIn,
        asked=examples.SCHEDULE_ASKED,
        answer=ScheduleOut,
        example=examples.SCHEDULE,
        parameters=[VersionQuery],
        refusals=[404],
    )
    def post(self, request: Request, code: str) -> Response:
        regimen, asked = regimen_asked(request, code), body(request, ScheduleIn)
        schedule = plan_schedule(
            regimen=regimen.as_rule(),
            day_zero=asked["day_zero"],
            given=asked.get("given", []),
            late_rule=LateRule(asked["late_rule"]),
            restart_after_days=asked.get("restart_after_days"),
        )
        return Response(ScheduleOut(asdict(schedule)).data)
