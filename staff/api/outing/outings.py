"""Outings and who is on them. Nobody is put on a roster who isn't clear on its date."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from staff.api import examples
from staff.api.described import described
from staff.api.outing.outing_details import DetailsIn, DetailsOut
from staff.doors.api import LEAD, LIAISON, MEMBER, OFFICER, Door, account, body, query
from staff.doors.api_fields import Choice, ColumnText, IsoDate, Shape, Whole
from staff.doors.retry import acting
from staff.ground.errors import Invalid
from staff.models import Assignment, Crew, CrewRole, Method, Outing, Person, Site, User
from staff.rules.outing.outing_details import OutingDetails
from staff.selectors import access
from staff.services.outing.outings import outing_create
from staff.services.outing.roster import roster_assign


class AssignedOut(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    person = serializers.IntegerField(source="person_id")
    name = serializers.CharField(source="person.name")
    role = serializers.ChoiceField(choices=CrewRole.choices)


class CrewOut(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    name = serializers.CharField()
    assignments = AssignedOut(many=True)


class OutingOut(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    site = serializers.CharField(source="site.code")
    date = serializers.DateField()
    area = serializers.CharField()
    method = serializers.ChoiceField(choices=Method.choices)
    dogs_expected = serializers.IntegerField()
    puppies_expected = serializers.IntegerField()
    riders = serializers.IntegerField()
    cancelled = serializers.SerializerMethodField()
    details = DetailsOut()
    crews = CrewOut(many=True)

    def get_cancelled(self, outing: Outing) -> bool:
        return outing.cancelled_at is not None


class AssignmentOut(AssignedOut):
    outing = serializers.IntegerField(source="outing_id")
    crew = serializers.IntegerField(source="crew_id")
    clear_from = serializers.DateField(source="clearance.starts_on")
    clear_until = serializers.DateField(source="clearance.ends_on", allow_null=True)


class OutingsQuery(Shape):
    since = IsoDate(required=False, help_text="First date listed.")
    until = IsoDate(required=False, help_text="Last date listed.")
    site = ColumnText(Site, "code", required=False, allow_blank=True, help_text="Code of a site.")


class OutingIn(Shape):
    site = ColumnText(
        Site, "code", required=False, help_text="Code of a site of yours; needed when you have several."
    )
    date = IsoDate(help_text="A date of the site's calendar, today or later.")
    area = ColumnText(Outing, "area")
    method = Choice(Method.choices, default=Method.HOUSE_TO_HOUSE.value)
    dogs_expected = Whole(lowest=0, highest=100_000, default=0, help_text="Adults and puppies.")
    puppies_expected = Whole(lowest=0, highest=100_000, default=0, help_text="Of them puppies.")
    riders = Whole(lowest=0, highest=200, default=0, help_text="People who ride there: a helmet each.")
    crews = Whole(highest=12, default=1)
    details = DetailsIn(required=False)


class AssignmentIn(Shape):
    person = Whole()
    crew = Whole(required=False, help_text="Needed when the outing has several crews.")
    role = Choice(CrewRole.choices)


class OutingsDoor(Door):
    open_to: ClassVar = {
        "GET": frozenset({OFFICER, LIAISON, LEAD, MEMBER}),
        "POST": frozenset({OFFICER}),
    }

    @described(
        name="outings_list",
        summary="Outings that you manage, watch or are on",
        answer=OutingOut(many=True),
        example=examples.OUTING,
        parameters=[OutingsQuery],
    )
    def get(self, request: Request) -> Response:
        asked = query(request, OutingsQuery)
        names = {"since": "date__gte", "until": "date__lte", "site": "site__code"}
        wanted = {names[name]: value for name, value in asked.items() if value}
        rows = with_crews(access.outings_visible_to(account(request)).filter(**wanted))
        return Response(OutingOut(rows, many=True).data)

    @described(
        name="outings_plan",
        summary="Plan an outing with empty crews",
        asks=OutingIn,
        asked=examples.OUTING_ASKED,
        answer=OutingOut,
        example=examples.OUTING,
        status=201,
        refusals=[409],
    )
    def post(self, request: Request) -> Response:
        officer, asked, now = account(request), body(request, OutingIn), timezone.now()
        site = _own_site(officer, asked.pop("site", None))
        asked["details"] = OutingDetails(**asked.pop("details", {}))
        if asked["date"] < site.local_date(now):
            raise Invalid({"date": _("Choose today or a later date.")})
        made = acting(outing_create, actor=officer, site_id=site.pk, now=now, **asked)
        return Response(OutingOut(with_crews(Outing.objects.filter(pk=made.pk)).get()).data, status=201)


class AssignmentsDoor(Door):
    open_to: ClassVar = {"POST": frozenset({OFFICER})}

    @described(
        name="outings_assign",
        summary="Put a person on a crew; 409 with the reasons when not clear on that date",
        asks=AssignmentIn,
        asked=examples.ASSIGNMENT_ASKED,
        answer=AssignmentOut,
        example=examples.ASSIGNMENT,
        status=201,
        refusals=[404, 409],
    )
    def post(self, request: Request, pk: int) -> Response:
        officer, now = account(request), timezone.now()
        outing = get_object_or_404(access.outings_managed_by(officer), pk=pk)
        asked = body(request, AssignmentIn)
        made = acting(
            roster_assign,
            actor=officer,
            outing=outing,
            crew=_crew(outing, asked.get("crew")),
            person=_person(officer, asked["person"]),
            role=asked["role"],
            now=now,
        )
        return Response(AssignmentOut(made).data, status=201)


def with_crews(outings: QuerySet[Outing]) -> QuerySet[Outing]:
    """`outings` with all that is shown of them, in a constant number of queries."""
    assigned = Assignment.objects.select_related("person")
    return outings.select_related("site").prefetch_related(
        Prefetch("crews", Crew.objects.prefetch_related(Prefetch("assignments", assigned)))
    )


def _own_site(officer: User, code: str | None) -> Site:
    sites = access.sites_as(officer, access.OFFICER)
    own = list(sites if code is None else sites.filter(code=code))
    if len(own) != 1:
        known = ", ".join(sites.values_list("code", flat=True))
        raise Invalid({"site": _("Give one of your sites: %(known)s.") % {"known": known}})
    return own[0]


def _crew(outing: Outing, pk: int | None) -> Crew:
    crews = list(outing.crews.all() if pk is None else outing.crews.filter(pk=pk))
    if len(crews) != 1:
        known = ", ".join(str(crew.pk) for crew in outing.crews.all())
        raise Invalid({"crew": _("Give one of the crews of this outing: %(known)s.") % {"known": known}})
    return crews[0]


def _person(officer: User, pk: int) -> Person:
    person = access.people_managed_by(officer).filter(pk=pk).first()
    if person is None:
        raise Invalid({"person": _("No person of your sites has this id; see /api/v1/clearance/.")})
    return person
