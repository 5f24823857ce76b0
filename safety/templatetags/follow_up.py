"""What the record of a person shows of the doses after an exposure."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import template

from safety.selectors.follow_up import doses_to_come
from staff.models import Person

register = template.Library()


@register.inclusion_tag("safety/_follow_up.html", takes_context=True)
def follow_up(context: template.Context, person: Person, today: date) -> dict[str, Any]:
    """The doses still to come, as far as the reader may see their cases."""
    return {"rows": doses_to_come(context["request"].user, person, today)}
