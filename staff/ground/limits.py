"""How long text may be: what a person wrote is refused with a sentence when it is longer, never cut; what a machine
wrote may be shortened, so that one sees it."""

from __future__ import annotations

from django.db.models import Model
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from staff.ground.errors import Invalid

MORE = "…"


def longest(model: type[Model], column: str) -> int:
    """The most characters the column takes; forms and the API's shapes ask for no other limit."""
    limit = getattr(model._meta.get_field(column), "max_length", None)
    if limit is None:
        raise LookupError(f"{model.__name__}.{column} has no limit")
    return int(limit)


def within(text: str, model: type[Model], column: str, *, field: str = "") -> str:
    """`text` without outer blanks, whole. Raises `Invalid` for more than the column takes; the answer names it
    `field`, or as the column is called."""
    text, limit = text.strip(), longest(model, column)
    if len(text) <= limit:
        return text
    called = capfirst(str(getattr(model._meta.get_field(column), "verbose_name", column)))
    words = _("%(field)s: at most %(limit)d characters fit here, and this has %(length)d. Shorten it.")
    raise Invalid({field or column: words % {"field": called, "limit": limit, "length": len(text)}})


def shortened(text: str, limit: int) -> str:
    """What a machine wrote, at most `limit` characters of it; where some are left out it ends with an ellipsis."""
    return text if len(text) <= limit else text[: limit - len(MORE)] + MORE


def fitting(text: str, model: type[Model], column: str) -> str:
    """What a machine wrote, shortened to what the column takes."""
    return shortened(text, longest(model, column))
