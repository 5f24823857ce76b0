"""Reporting what happened. The key is made where the report is written; sent again it finds the same row."""

from __future__ import annotations

import re
import uuid
from typing import ClassVar

from django.utils import timezone
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.case import examples
from safety.api.case.case_read import IncidentOut, report_answer
from safety.api.case.report_shape import IncidentIn, report_of
from safety.errors import Invalid
from safety.selectors.case.cases import reportable_people
from safety.services.case.typed_reports import incident_report
from staff.api.described import described
from staff.doors.api import LEAD, LIAISON, MEMBER, OFFICER, Door, account, body
from staff.doors.retry import acting
from staff.models import Outing, Person, User
from staff.selectors.access import outings_visible_to, own_person

# Visible ASCII, with or without the quotes of a structured header.
_KEY = re.compile(r'"?([!#-~]{1,200})"?')
REPORTERS = frozenset({OFFICER, LIAISON, LEAD, MEMBER})


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
            report=report_of(asked),
            now=now,
        )
        return Response(IncidentOut(report_answer(reported, reporter, now)).data, status=201)


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
