"""Who may go out on a date. The officer and the liaison see why not, a crew lead only whether, a member oneself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any, ClassVar

from django.utils import timezone
from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from staff.api import examples
from staff.api.described import described
from staff.doors.api import LEAD, LIAISON, MEMBER, OFFICER, Door, account, query
from staff.doors.api_fields import ColumnText, IsoDate, Shape
from staff.ground.errors import NotThere
from staff.models import Site, User
from staff.selectors import access
from staff.selectors.record.clear_from import ClearFrom, clear_from
from staff.selectors.record.readiness import Readiness, readiness
from staff.services.audit import audit_write

# What the reasons of somebody are called whose stored clearance lags behind the record.
NOT_STORED_CODE = "not-stored"


class ReasonOut(serializers.Serializer[Any]):
    code = serializers.CharField()
    words = serializers.CharField()


class ClearanceOut(serializers.Serializer[Any]):
    """One person on one date. A crew lead gets no reasons and no date."""

    person = serializers.IntegerField()
    number = serializers.CharField()
    name = serializers.CharField()
    site = serializers.CharField()
    cleared = serializers.BooleanField()
    reasons = ReasonOut(many=True)
    clear_from = serializers.DateField(
        allow_null=True,
        help_text="First clear date from `on`, once what `clear_from_words` asks for is done; null: no date follows.",
    )
    clear_from_words = serializers.CharField(allow_blank=True)


class ClearanceQuery(Shape):
    on = IsoDate(required=False, help_text="Without it: today at each site.")
    site = ColumnText(
        Site, "code", required=False, allow_blank=True, help_text="Code of a site; without it all of yours."
    )


class ClearanceDoor(Door):
    open_to: ClassVar = {"GET": frozenset({OFFICER, LIAISON, LEAD, MEMBER})}

    @described(
        name="clearance_list",
        summary="Who is clear for field work on a date, and why others aren't",
        answer=ClearanceOut(many=True),
        example=examples.CLEARANCE,
        parameters=[ClearanceQuery],
        refusals=[404],
    )
    def get(self, request: Request) -> Response:
        viewer, asked, now = account(request), query(request, ClearanceQuery), timezone.now()
        sites = _sites(viewer, asked.get("site", ""))
        informed = set(access.sites_as(viewer, access.OFFICER, access.LIAISON).values_list("pk", flat=True))
        rows = [
            _row(row, ahead if row.person.site_id in informed or row.person.user_id == viewer.pk else None)
            for row, ahead in _board(viewer, sites, asked.get("on"), now)
        ]
        _note_look(viewer, [site for site in sites if site.pk in informed], asked.get("on"), now)
        return Response(ClearanceOut(rows, many=True).data)


def _sites(viewer: User, code: str) -> list[Site]:
    sites = list(access.sites_of(viewer).filter(code=code) if code else access.sites_of(viewer))
    if code and not sites:
        words = _("No site of yours has this code.")
        raise NotThere(words, fields={"site": words})
    return sites


def _board(
    viewer: User, sites: list[Site], on: date | None, now: datetime
) -> Iterator[tuple[Readiness, ClearFrom]]:
    by_date: dict[date, list[Site]] = defaultdict(list)
    for site in sites:
        by_date[site.local_date(now)].append(site)
    people = access.people_named_to(viewer)
    for today, there in by_date.items():
        rows = readiness(people.filter(site__in=there), on or today, there)
        yield from zip(rows, clear_from(rows, today), strict=True)


def _row(row: Readiness, ahead: ClearFrom | None) -> dict[str, Any]:
    """`ahead` is None for whoever may know whether somebody is clear, but neither why not nor from when."""
    codes = row.codes or ([] if row.clear else [NOT_STORED_CODE])
    reasons = [{"code": code, "words": words} for code, words in zip(codes, row.words, strict=True)]
    return {
        "person": row.person.pk,
        "number": row.person.number,
        "name": row.person.name,
        "site": row.person.site.code,
        "cleared": row.clear,
        "reasons": reasons if ahead else [],
        "clear_from": ahead.on if ahead else None,
        "clear_from_words": ahead.words if ahead else "",
    }


def _note_look(viewer: User, sites: list[Site], on: date | None, now: datetime) -> None:
    """One row for each site whose records were looked at, not one for each person."""
    for site in sites:
        day = on or site.local_date(now)
        audit_write(actor=viewer, action="board.seen", now=now, site=site, target=f"board:{day.isoformat()}")
