"""One shape for every error: {"code", "message", "fields"}. The message says what happened and what to do."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Mapping
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler

from staff.doors.retry import refusal_of
from staff.doors.status import status_of
from staff.ground.errors import TooMany
from staff.rules.regimen.values import RuleError

# The framework's name for "the whole object", which is no field anybody could mend.
NON_FIELD = "non_field_errors"
READING = frozenset({"GET", "HEAD", "OPTIONS"})

logger = logging.getLogger(__name__)


_BY_STATUS = {
    400: ("unreadable", gettext_lazy("The request can't be read; check it and send it again.")),
    401: (
        "no-key",
        gettext_lazy(
            "Send a valid key as “Authorization: Token KEY”; make one on the account page or have one made."
        ),
    ),
    403: ("not-allowed", gettext_lazy("Your account may not do this; ask the safety officer of the site.")),
    404: (
        "not-found",
        gettext_lazy("Nothing here that your account may see; check the address, which ends with a slash."),
    ),
    405: ("method-not-allowed", gettext_lazy("This address doesn't take that method; see /api/v1/schema/.")),
    406: ("not-acceptable", gettext_lazy("Answers are JSON; ask for application/json.")),
    415: ("not-json", gettext_lazy("Send JSON, with “Content-Type: application/json”.")),
    429: ("too-many-requests", gettext_lazy("Too many requests; wait a little and send it again.")),
    500: (
        "failed",
        gettext_lazy("Something failed on our side and was logged; nothing was stored. Try again later."),
    ),
}
# Sentences of the rules that a program can run into, by their code.
_RULE_WORDS = {
    "not-first-dose": gettext_lazy(
        "Day 0 is the date of the first dose given; give the earliest date of “given”."
    ),
    "restart-days-needed": gettext_lazy("Starting again needs a number of days late, 1 or more."),
}


def problem(
    status: int,
    *,
    code: str = "",
    message: str = "",
    fields: Mapping[str, str] | None = None,
    headers: dict[str, str] | None = None,
) -> Response:
    """An error in the one shape, with the words of the status where none are given."""
    usual_code, usual_words = _BY_STATUS.get(status, _BY_STATUS[500])
    body = {"code": code or usual_code, "message": message or str(usual_words), "fields": dict(fields or {})}
    return Response(body, status=status, headers=headers)


def one_shape(error: Exception, context: dict[str, Any]) -> Response:
    """Turn whatever a door raised into an answer; what nobody foresaw is logged with its trace and answered 500."""
    refused = refusal_of(error, unchanged=_only_reads(context))
    if refused is not None:
        headers = {"Retry-After": str(refused.retry_after)} if isinstance(refused, TooMany) else None
        status, fields = status_of(refused), refused.fields
        return problem(status, code=refused.code, message=refused.message, fields=fields, headers=headers)
    if isinstance(error, RuleError):
        words = str(_RULE_WORDS.get(error.code, error.message))
        return problem(400, code="invalid", message=words, fields={error.field: words})
    if isinstance(error, exceptions.ValidationError):
        return _invalid(error)
    if not isinstance(error, (exceptions.APIException, Http404, PermissionDenied)):
        logger.error("%s failed", context["request"].path, exc_info=error)
        return problem(500)
    return _of_framework(error, context)


def _only_reads(context: dict[str, Any]) -> bool:
    request = context.get("request")
    return request is not None and request.method in READING


def _of_framework(
    error: exceptions.APIException | Http404 | PermissionDenied, context: dict[str, Any]
) -> Response:
    usual = exception_handler(error, context)
    status = usual.status_code if usual else 500
    headers = (
        {name: value for name, value in usual.headers.items() if name != "Content-Type"} if usual else {}
    )
    # These two come from our own reader and say what is wrong better than the status does.
    if isinstance(error, exceptions.APIException) and status in (400, 413):
        code = "too-large" if status == 413 else ""
        return problem(status, code=code, message=str(error.detail), headers=headers)
    return problem(status, headers=headers)


def _invalid(error: exceptions.ValidationError) -> Response:
    fields: dict[str, str] = {}
    for name, words in flattened(error.detail):
        fields[name] = f"{fields[name]} {words}" if name in fields else words
    message = _("Mend the fields named and send it again: %(names)s.") % {"names": ", ".join(fields)}
    return problem(400, code="invalid", message=message, fields=fields)


def flattened(detail: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Every message with the path of its field, such as doses.0.given_on."""
    if isinstance(detail, Mapping):
        for name, inner in detail.items():
            own = path if name == NON_FIELD else f"{path}.{name}" if path else str(name)
            yield from flattened(inner, own)
    elif isinstance(detail, list):
        for index, inner in enumerate(detail):
            place = f"{path}.{index}" if isinstance(inner, (Mapping, list)) else path
            yield from flattened(inner, place)
    else:
        yield path, str(detail)
