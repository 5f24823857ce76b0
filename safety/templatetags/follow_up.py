"""What the record of a person shows of exposures: the doses still to come, and the case behind a hold."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils import timezone

from safety.models import CalendarFeed, Incident
from safety.selectors.course.follow_up import doses_to_come, hold_case
from safety.selectors.notices.feed import feed_of
from staff.models import Hold, Person

register = template.Library()


@register.inclusion_tag("safety/_follow_up.html", takes_context=True)
def follow_up(context: template.Context, person: Person) -> dict[str, Any]:
    """The doses still to come, as far as the reader may see their cases; each by the calendar where it is given."""
    return {"rows": doses_to_come(context["request"].user, person, timezone.now())}


@register.simple_tag(takes_context=True)
def case_of_hold(context: template.Context, hold: Hold) -> Incident | None:
    return hold_case(context["request"].user, hold)


@register.simple_tag(takes_context=True)
def own_calendar_feed(context: template.Context) -> CalendarFeed | None:
    """The reader's own feed while its link works."""
    feed = feed_of(context["request"].user)
    return feed if feed is not None and feed.ended_at is None else None
