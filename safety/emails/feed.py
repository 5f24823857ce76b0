"""A feed's entries as one iCalendar object (RFC 5545, RFC 7986) that says nothing but when.

No place, no name and no word of what it is about: calendars are shared and shown on screens.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext as _
from icalendar import Calendar, Event, Timezone, TimezoneStandard

from safety.emails.calendar import KEPT_FREE
from safety.models import FeedEntry

# How often programs should ask again; they may do as they like.
ASKED_AGAIN = timedelta(hours=1)


def feed_text(entries: Iterable[FeedEntry], language: str) -> bytes:
    """The whole feed in the reader's language, as the bytes that travel."""
    with translation.override(language):
        calendar = Calendar()
        calendar.add("prodid", "-//Three-Fifteen//EN")
        calendar.add("version", "2.0")
        calendar.add("name", _("Dates"))
        calendar.add("refresh-interval", ASKED_AGAIN, parameters={"VALUE": "DURATION"})
        for entry in entries:
            calendar.add_component(_event(entry))
        if not calendar.subcomponents:
            calendar.add_component(_nothing())
    return bytes(calendar.to_ical())


def _event(entry: FeedEntry) -> Event:
    event = Event()
    event.add("uid", str(entry.uid))
    # Without a METHOD this is when the entry was last changed (RFC 5545, 3.8.7.2).
    event.add("dtstamp", entry.changed_at.astimezone(UTC))
    event.add("last-modified", entry.changed_at.astimezone(UTC))
    event.add("sequence", entry.sequence)
    if entry.starts_at is None:
        event.add("dtstart", entry.starts_on)
        event.add("transp", "TRANSPARENT")
    else:
        event.add("dtstart", entry.starts_at.astimezone(UTC))
        event.add("dtend", entry.starts_at.astimezone(UTC) + KEPT_FREE)
    event.add("summary", _("Date %(reference)s") % {"reference": entry.reference})
    event.add("class", "PRIVATE")
    event.add("status", "CONFIRMED" if entry.cancelled_at is None else "CANCELLED")
    event.add("url", f"{settings.PUBLIC_URL}{entry.path}")
    return event


def _nothing() -> Timezone:
    """A calendar has to hold a component (RFC 5545, 3.6): without a date it is the zone its times are in."""
    zone, standard = Timezone(), TimezoneStandard()
    zone.add("tzid", "Etc/UTC")
    standard.add("dtstart", datetime(1970, 1, 1))  # noqa: DTZ001  # local time of the zone, RFC 5545, 3.6.5
    standard.add("tzoffsetfrom", timedelta(0))
    standard.add("tzoffsetto", timedelta(0))
    zone.add_component(standard)
    return zone
