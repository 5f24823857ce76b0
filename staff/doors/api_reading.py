"""Reading a body: JSON, an object, of bounded size, with nothing in it that could not be stored or shown."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any, NoReturn

from django.utils.translation import gettext as _
from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import BaseParser

# A report with every wound and the longest narrative is under 10 KiB.
LARGEST_BODY = 256 * 1024


class TooLarge(APIException):
    status_code = 413
    default_code = "too-large"


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not JSON")


class JSONObjectParser(BaseParser):
    """Raises ParseError (400) for anything but one JSON object in UTF-8, TooLarge (413) past `largest` bytes."""

    media_type = "application/json"
    largest = LARGEST_BODY

    def parse(
        self,
        stream: IO[Any],
        _media_type: str | None = None,
        _parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        raw = stream.read(self.largest + 1)
        if len(raw) > self.largest:
            raise TooLarge(
                _("The body is larger than %(size)d KiB; send less at a time.")
                % {"size": self.largest // 1024}
            )
        try:
            data = json.loads(raw.decode("utf-8"), parse_constant=_no_constant)
            # Half of a surrogate pair is no text: neither a database nor an answer can hold it.
            json.dumps(data, ensure_ascii=False).encode("utf-8")
        except (ValueError, RecursionError):
            raise ParseError(_("The body isn't JSON in UTF-8; check it and send it again.")) from None
        if not isinstance(data, dict):
            raise ParseError(_("Send one JSON object, in braces, with the fields by name."))
        return data
