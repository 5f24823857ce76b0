"""API keys: `Authorization: Token KEY`. A session of the pages opens nothing here, so no request can be forged."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from knox.auth import TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed


class KeyAuthentication(TokenAuthentication):  # type: ignore[misc]  # knox has no types
    def authenticate_credentials(self, token: bytes) -> Any:
        # Keys are plain letters and digits; anything else would fail further down as an error of ours.
        if not token.isascii():
            raise AuthenticationFailed
        return super().authenticate_credentials(token)


class KeyScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How the schema describes the key."""

    target_class = KeyAuthentication
    name = "key"

    def get_security_definition(self, _auto_schema: Any) -> dict[str, str]:
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": (
                "`Token KEY`, the word Token included. "
                "Keys come from the account page or from `manage.py api_token USERNAME`."
            ),
        }
