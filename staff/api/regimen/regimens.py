"""The regimen table and what can be computed from it. Computing stores nothing."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from staff.api import examples
from staff.api.described import described
from staff.doors.api import ANYONE, Door, account, body, query
from staff.doors.api_fields import Choice, IsoDate, Many, NoQuery, Shape, Whole
from staff.ground.dates import month_end
from staff.models import DateKnown, LateRuleChoice, Purpose, Regimen, Route
from staff.rules.record.mixed import accepted_routes
from staff.rules.record.series import DoseReason, DoseResult, evaluate_series
from staff.rules.regimen import values
from staff.rules.regimen.schedule import plan_schedule
from staff.rules.regimen.values import DoseFact, LateRule
from staff.selectors.regimen.regimens import regimen_version, regimens_known, regimens_visible_to
from staff.words import dose_words


class StepOut(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    day = serializers.IntegerField(help_text="Counted from day 0, the date of the first dose given.")
    latest_day = serializers.IntegerField()
    smallest_gap = serializers.IntegerField(help_text="Days after the step before; earlier doesn't count.")
    injections = serializers.IntegerField()
    later = serializers.BooleanField(help_text="Keeps a series that is complete already.")


class ApprovalOut(serializers.Serializer[Any]):
    site = serializers.CharField(source="site.code")
    authority = serializers.CharField()
    approved_on = serializers.DateField()
    document = serializers.CharField()


class RegimenOut(serializers.Serializer[Any]):
    """One version of one regimen. Without an approval it may be seen and tried, not used."""

    code = serializers.CharField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    purpose = serializers.ChoiceField(choices=Purpose.choices)
    routes = serializers.ListField(child=serializers.ChoiceField(choices=Route.choices))
    for_whom = serializers.ChoiceField(choices=Regimen.ForWhom.choices)
    source = serializers.CharField()  # type: ignore[assignment]  # a field of ours, not the option of that name
    source_kind = serializers.ChoiceField(choices=Regimen.SourceKind.choices)
    state = serializers.ChoiceField(
        choices=Regimen.State.choices, help_text="Drafts and submitted versions are seen by officers alone."
    )
    steps = StepOut(many=True)
    approvals = serializers.SerializerMethodField()

    @extend_schema_field(ApprovalOut(many=True))
    def get_approvals(self, regimen: Regimen) -> list[dict[str, Any]]:
        standing = [row for row in regimen.approvals.all() if row.withdrawn_at is None]
        return [dict(row) for row in ApprovalOut(standing, many=True).data]


class VersionQuery(Shape):
    version = Whole(
        required=False,
        highest=32767,
        help_text="Without it: the newest version an authority has approved, else the newest.",
    )


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


class GivenDoseIn(Shape):
    given_on = IsoDate()
    date_known = Choice(
        DateKnown.choices, default="day", help_text="“month”: any day of it; its last counts."
    )
    route = Choice(Route.choices, required=False, allow_null=True, help_text="Not given or null: not known.")
    injections = Whole(highest=20, required=False, allow_null=True)


class SeriesIn(Shape):
    doses = Many(child=GivenDoseIn(), longest=100)
    on = IsoDate(help_text="Date on which things are judged; later doses are in the future.")
    mixed_routes = serializers.BooleanField(
        required=False,
        help_text="Another route counts as its own regimen with as many visits asks; so a site may decide.",
    )


class NextDoseOut(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    earliest_on = serializers.DateField()
    due_on = serializers.DateField()
    latest_on = serializers.DateField()


class JudgedDoseOut(serializers.Serializer[Any]):
    given_on = serializers.DateField()
    counts = serializers.BooleanField()
    step = serializers.IntegerField(allow_null=True)
    reason = serializers.CharField(allow_null=True, help_text="Why it doesn't count, in words.")
    reason_code = serializers.ChoiceField(
        allow_null=True, choices=[(one.value, one.value) for one in DoseReason]
    )


class SeriesOut(serializers.Serializer[Any]):
    valid_doses = serializers.IntegerField()
    complete_on = serializers.DateField(allow_null=True)
    next = NextDoseOut(allow_null=True)
    doses = JudgedDoseOut(many=True)


def _found(request: Request, code: str) -> Regimen:
    regimen = regimen_version(account(request), code, query(request, VersionQuery).get("version"))
    if regimen is None:
        raise Http404
    return regimen


class RegimensDoor(Door):
    open_to: ClassVar = {"GET": frozenset({ANYONE})}

    @described(
        name="regimens_list",
        summary="Every version of every regimen, with steps, source and approvals",
        answer=RegimenOut(many=True),
        example=examples.REGIMEN,
    )
    def get(self, request: Request) -> Response:
        query(request, NoQuery)
        return Response(RegimenOut(regimens_visible_to(account(request)), many=True).data)


class RegimenDoor(Door):
    open_to: ClassVar = {"GET": frozenset({ANYONE})}

    @described(
        name="regimens_one",
        summary="One regimen",
        answer=RegimenOut,
        example=examples.REGIMEN,
        parameters=[VersionQuery],
        refusals=[404],
    )
    def get(self, request: Request, code: str) -> Response:
        return Response(RegimenOut(_found(request, code)).data)


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
        regimen, asked = _found(request, code), body(request, ScheduleIn)
        schedule = plan_schedule(
            regimen=regimen.as_rule(),
            day_zero=asked["day_zero"],
            given=asked.get("given", []),
            late_rule=LateRule(asked["late_rule"]),
            restart_after_days=asked.get("restart_after_days"),
        )
        return Response(ScheduleOut(asdict(schedule)).data)


class SeriesDoor(Door):
    open_to: ClassVar = {"POST": frozenset({ANYONE})}

    @described(
        name="regimens_series",
        summary="Compute which doses count and when the next is due; stores nothing",
        asks=SeriesIn,
        asked=examples.SERIES_ASKED,
        answer=SeriesOut,
        example=examples.SERIES,
        parameters=[VersionQuery],
        refusals=[404],
    )
    def post(self, request: Request, code: str) -> Response:
        regimen, asked = _found(request, code), body(request, SeriesIn)
        rule, table = regimen.as_rule(), [row.as_rule() for row in regimens_known()]
        result = evaluate_series(
            regimen=rule,
            doses=[_fact(dose) for dose in asked["doses"]],
            on=asked["on"],
            other_routes=accepted_routes(rule, table, mixed=asked.get("mixed_routes", False)),
        )
        judged = {
            "valid_doses": result.valid_doses,
            "complete_on": result.complete_on,
            "next": asdict(result.next) if result.next else None,
            "doses": [_judged(dose) for dose in result.doses],
        }
        return Response(SeriesOut(judged).data)


def _fact(dose: dict[str, Any]) -> DoseFact:
    route, month_only = dose.get("route"), dose["date_known"] == DateKnown.MONTH
    return DoseFact(
        given_on=month_end(dose["given_on"]) if month_only else dose["given_on"],
        month_only=month_only,
        route=values.Route(route) if route else None,
        injections=dose.get("injections"),
    )


def _judged(result: DoseResult) -> dict[str, Any]:
    return {
        "given_on": result.dose.given_on,
        "counts": result.counts,
        "step": result.step,
        "reason": dose_words(result) or None,
        "reason_code": result.reason.value if result.reason else None,
    }
