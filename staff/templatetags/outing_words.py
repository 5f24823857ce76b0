"""What crews are told of an outing, wherever a page shows one."""

from __future__ import annotations

from typing import Any

from django import template

from staff.models import Outing
from staff.selectors.outing.outing_words import detail_rows, start_words

register = template.Library()


@register.inclusion_tag("staff/_outing_details.html")
def outing_details(outing: Outing) -> dict[str, Any]:
    return {"rows": detail_rows(outing)}


@register.filter
def starts(outing: Outing) -> str:
    """The start by the site's clocks; empty without one."""
    return start_words(outing)
