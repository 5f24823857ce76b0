"""Notices about an animal: an alarming word or an outcome at once, what yesterday left undone in the morning.

To the liaison and the officer. The mail says that something needs somebody, and nothing of an animal.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Q, QuerySet

from safety.models import Notice, Observation
from safety.rules.follow_up import Audience
from safety.rules.observation import ALARMING, GRACE, ONE_DAY, asks_this_morning, unseen_twice
from safety.selectors.observation import standing_checks, standing_outcomes, state_of, words_of
from safety.selectors.recipients import Recipient, audience_of
from safety.services.notice_rows import bring_up, new_notice
from staff.bell import ring

logger = logging.getLogger(__name__)

ANIMAL_WORD = "animal-word"
TOLD = (Audience.LIAISON, Audience.OFFICER)
# A word older than this was told or has been dealt with; a restored database doesn't write about last year.
FRESH = timedelta(days=7)


@dataclass(frozen=True)
class Call:
    """One reason to write: its part of the key, the date it is about, the day it goes out; `at_once` or at the site's hour."""

    key: str
    about_on: date
    send_on: date
    at_once: bool


def animal_notices_add(*, observation: Observation, now: datetime) -> None:
    """Write who is to be told now, and ring for a worker. Call it in the transaction that made the word."""
    fresh = _observations().get(pk=observation.pk)
    if _bring_up(fresh, now):
        ring("safety.tick")


def animal_notices_reconcile(*, now: datetime) -> None:
    """The sweep: words that nobody was told of, checks that are missing, and readers who have joined since.

    One bad row never stops it.
    """
    for observation in _recent(now):
        try:
            _bring_up(observation, now)
        except Exception:
            logger.exception("The words about animal %s can't be told", observation.pk)


def animal_word_still_true(notice: Notice, now: datetime) -> bool:
    """A word that was voided, and a check that came meanwhile, need nobody."""
    standing = _observations().filter(incident=notice.incident).first()
    return standing is not None and notice.key in _wanted(standing, now, since=None)


def _observations() -> QuerySet[Observation]:
    return Observation.objects.select_related(
        "incident__site__rules", "incident__person__user"
    ).prefetch_related("checks", "outcomes")


def _recent(now: datetime) -> QuerySet[Observation]:
    """Those under watch, a little after their last day too, and those about which something new was said."""
    since = now - FRESH
    return (
        _observations()
        .filter(
            Q(last_on__gte=now.date() - GRACE - 2 * ONE_DAY)
            | Q(checks__recorded_at__gt=since)
            | Q(outcomes__recorded_at__gt=since)
        )
        .distinct()
    )


def _bring_up(observation: Observation, now: datetime) -> bool:
    wanted = _wanted(observation, now, since=now - FRESH)
    with transaction.atomic():
        standing = {row.key: row for row in Notice.objects.filter(key__in=wanted)}
        bring_up(wanted, standing, now)
    return bool(wanted)


def _wanted(observation: Observation, now: datetime, *, since: datetime | None) -> dict[str, Notice]:
    calls = list(_calls(observation, now, since))
    if not calls:
        return {}
    # A site without a liaison has its officers in both places: they are written to once.
    readers = {
        reader.tag: reader for audience in TOLD for reader in audience_of(observation.incident, audience, now)
    }
    rows = (_row(observation, call, reader, now) for call in calls for reader in readers.values())
    return {row.key: row for row in rows}


def _calls(observation: Observation, now: datetime, since: datetime | None) -> Iterator[Call]:
    site = observation.incident.site
    today = site.local_date(now)
    checks = [row for row in standing_checks(observation) if since is None or row.recorded_at > since]
    # The word told is the day and what was seen: pressed five times it is one notice.
    first = {(row.day, row.seen): row for row in reversed(checks)}
    for (day, seen), row in first.items():
        if seen in ALARMING:
            yield Call(f"{day}:{seen}", day, site.local_date(row.recorded_at), at_once=True)
    days = {row.day for row in checks}
    for day in unseen_twice(words_of(observation)):
        if day in days:
            said = max(row.recorded_at for row in checks if row.day == day)
            yield Call(f"{day}:unseen", day, site.local_date(said), at_once=True)
    for outcome in standing_outcomes(observation):
        if since is None or outcome.recorded_at > since:
            said_on = site.local_date(outcome.recorded_at)
            yield Call(f"outcome-{outcome.pk}", said_on, said_on, at_once=True)
    if asks_this_morning(observation.term, words_of(observation), state_of(observation, today), today):
        yield Call(f"{today}:ask", today, today, at_once=False)


def _row(observation: Observation, call: Call, reader: Recipient, now: datetime) -> Notice:
    incident = observation.incident
    return new_notice(
        key=f"animal-{observation.pk}:{call.key}:{reader.mark}",
        kind=ANIMAL_WORD,
        site=incident.site,
        reader=reader,
        send_on=call.send_on,
        # The first hour of that date has passed: it is due as soon as it is written.
        hour=0 if call.at_once else None,
        when_on=call.about_on,
        reference=incident.reference,
        path=f"/cases/{incident.reference}/",
        audience="report",
        now=now,
        incident=incident,
    )
