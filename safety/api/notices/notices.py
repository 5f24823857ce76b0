"""The outbox, as officer and liaison may see it: references and times, nothing about anybody's health."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.case import examples
from safety.models import Notice
from safety.selectors.notices.notices import notices_visible_to
from staff.api.described import described
from staff.doors.api import LIAISON, OFFICER, Door, account, query
from staff.doors.api_fields import Choice, Shape, Whole


class NoticesQuery(Shape):
    state = Choice(Notice.State.choices, required=False, allow_blank=True)
    before = Whole(required=False, help_text="Notices written before the one with this id: the next page.")
    limit = Whole(highest=500, default=100)


class NoticeOut(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    site = serializers.CharField(source="site.code")
    reference = serializers.CharField()
    kind = serializers.CharField()
    when_on = serializers.DateField(allow_null=True, help_text="The date it is about.")
    audience = serializers.CharField()
    email = serializers.EmailField()
    state = serializers.ChoiceField(choices=Notice.State.choices)
    due_at = serializers.DateTimeField()
    attempts = serializers.IntegerField()
    last_error = serializers.CharField()
    settled_at = serializers.DateTimeField(allow_null=True)


class NoticesDoor(Door):
    open_to: ClassVar = {"GET": frozenset({OFFICER, LIAISON})}

    @described(
        name="notices_list",
        summary="Notices of your sites, the last written first",
        answer=NoticeOut(many=True),
        example=examples.NOTICE,
        parameters=[NoticesQuery],
    )
    def get(self, request: Request) -> Response:
        asked = query(request, NoticesQuery)
        rows = notices_visible_to(account(request)).order_by("-pk")
        if asked.get("state"):
            rows = rows.filter(state=asked["state"])
        if "before" in asked:
            rows = rows.filter(pk__lt=asked["before"])
        return Response(NoticeOut(rows[: asked["limit"]], many=True).data)
