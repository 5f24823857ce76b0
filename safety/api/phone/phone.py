"""The phone's doors. They ask for no key: what opens them is a personal link, and it reads nothing about people."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.phone import examples_phone
from safety.rules.case.washing import WASH_MINUTES
from safety.services.phone.keys import public_keys
from staff.api.described import described
from staff.doors.api import Door
from staff.doors.api_reading import JSONObjectParser


class SmallJSONParser(JSONObjectParser):
    """Anybody may write to these doors, so their bound is smaller; ten pages of a story still fit, in any script."""

    largest = 128 * 1024


class OpenDoor(Door):
    """Open without a key, and without an account: a session that comes along is not looked at."""

    authentication_classes = ()  # type: ignore[assignment]  # the key of the other doors
    permission_classes = (AllowAny,)
    parser_classes = (SmallJSONParser,)

    def check_permissions(self, request: Request) -> None:
        """Nothing to check here: each door asks for what opens it."""


class PublicKeyOut(serializers.Serializer[Any]):
    key_id = serializers.CharField()
    public = serializers.CharField(help_text="Uncompressed P-256 point, base64url without padding.")
    until = serializers.DateTimeField(help_text="After this, seal to a newer key.")


class KeysOut(serializers.Serializer[Any]):
    wash_minutes = serializers.IntegerField()
    keys = PublicKeyOut(many=True)


class PhoneKeysDoor(OpenDoor):
    """For a phone without a link: what to seal to, and nothing else."""

    @described(
        name="phone_keys",
        summary="The public keys phones seal to",
        answer=KeysOut,
        example=examples_phone.KEYS,
        keyed=False,
    )
    def get(self, _request: Request) -> Response:
        keys = [asdict(key) for key in public_keys(now=timezone.now())]
        return Response(KeysOut({"wash_minutes": WASH_MINUTES, "keys": keys}).data)
