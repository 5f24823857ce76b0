"""The words of the schema that every door shares."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from drf_spectacular.utils import OpenApiExample, OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import serializers


class Problem(serializers.Serializer[Any]):
    """The one shape of every error."""

    code = serializers.CharField(help_text="For programs: invalid, not-found, not-cleared …")
    message = serializers.CharField(help_text="For people: what happened and what to do.")
    fields = serializers.DictField(  # type: ignore[assignment]
        child=serializers.CharField(),
        help_text="Each field to mend, with the remedy; empty when none is at fault.",
    )


_MEANING = {
    400: "The request can't be taken; `fields` names what to mend.",
    401: "No valid key.",
    403: "The account's roles don't open this door, or what would clear somebody is about the account's own person.",
    404: "Nothing here that the account may see.",
    409: "The state of things does not allow it; the message says why.",
    413: "The body is too large.",
    415: "The body isn't JSON.",
    429: "Too many at once or too many tries; the header Retry-After says how many seconds to wait.",
    422: "The same key came before with another body.",
}


def described(
    *,
    name: str,
    summary: str,
    answer: Any,
    example: Any,
    status: int = 200,
    asks: Any = None,
    asked: Any = None,
    parameters: Sequence[OpenApiParameter | type[serializers.Serializer[Any]]] = (),
    refusals: Sequence[int] = (),
    keyed: bool = True,
) -> Callable[[Any], Any]:
    """Describe one method of a door: `asked` and `example` are a request and its answer, as they really are.

    `keyed`: the door asks for an API key.
    """
    writes = (400, 413, 415) if asks is not None else (400,) if parameters else ()
    answers: dict[int, OpenApiResponse] = {
        status: OpenApiResponse(answer, examples=[OpenApiExample("Answer", value=example)])
    }
    for refusal in sorted({*((401, 403) if keyed else ()), *writes, *refusals}):
        answers[refusal] = OpenApiResponse(Problem, description=_MEANING[refusal])
    return extend_schema(
        operation_id=name,
        summary=summary,
        request=asks,
        parameters=list(parameters),
        auth=None if keyed else [],
        responses=answers,
        examples=[OpenApiExample("Request", value=asked, request_only=True)] if asked is not None else [],
    )
