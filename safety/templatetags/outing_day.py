"""What an outing's page shows of a crew's day: when it left and without what, and that it is back."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils import timezone

from safety.selectors.crew_day.outing_day import crew_day
from staff.models import Crew

register = template.Library()


@register.inclusion_tag("safety/_crew_day.html", takes_context=True)
def day_of_crew(context: template.Context, crew: Crew) -> dict[str, Any]:
    return {"day": crew_day(context["request"].user, crew, timezone.now())}
