"""Word of a watched animal: an alarming word or an outcome at once, what yesterday left undone in the morning.

To the liaison and the officer. The mail says that something needs somebody, and nothing of an animal. A later "well"
silences no alarm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from safety.models import Notice, Observation
from safety.notices.rows import by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.animal.observation import ALARMING, GRACE, ONE_DAY, asks_this_morning, unseen_twice
from safety.rules.notices.follow_up import Audience
from safety.selectors.animal.observation import standing_checks, standing_outcomes, state_of, words_of
from safety.selectors.notices.recipients import Recipient, audience_of

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


@dataclass(frozen=True)
class Watched:
    """An observation, and since when its words count; None: all of them."""

    observation: Observation
    since: datetime | None

    @property
    def pk(self) -> int:
        return self.observation.pk


def watched(observation: Observation, now: datetime) -> Watched:
    """What is told of an observation now, read afresh."""
    return Watched(_observations().get(pk=observation.pk), now - FRESH)


def _subjects(now: datetime) -> Iterator[Watched]:
    """Words that nobody was told of, checks that are missing, and readers who have joined since, among them."""
    return (Watched(observation, now - FRESH) for observation in _recent(now))


def _subject_of(notice: Notice) -> Watched | None:
    """A word that was voided, and a check that came meanwhile, need nobody."""
    standing = _observations().filter(notices=notice.pk).first()
    return None if standing is None else Watched(standing, None)


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


def _wanted(subject: Watched, now: datetime) -> dict[str, Notice]:
    observation = subject.observation
    calls = list(_calls(observation, now, subject.since))
    if not calls:
        return {}
    # A site without a liaison has its officers in both places: they are written to once.
    readers = {
        reader.tag: reader for audience in TOLD for reader in audience_of(observation.incident, audience, now)
    }
    return by_key(_row(observation, call, reader, now) for call in calls for reader in readers.values())


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
    matter = f"animal-{observation.pk}:{call.key}"
    return new_notice(
        key=f"{matter}:{reader.mark}",
        matter=matter,
        kind=ANIMAL_WORD.name,
        site=incident.site,
        reader=reader,
        send_on=call.send_on,
        hour=0 if call.at_once else None,
        when_on=call.about_on,
        reference=incident.reference,
        path=f"/cases/{incident.reference}/",
        audience="report",
        now=now,
        incident=incident,
        observation=observation,
    )


def _stands(notice: Notice) -> bool:
    """What a laboratory says may come after the case was closed; of an observation that was voided nothing stands."""
    return Observation.objects.filter(incident=notice.incident, voided_at__isnull=True).exists()


ANIMALS = Origin(
    name="words about animals",
    subjects=_subjects,
    subject_of=_subject_of,
    wanted=_wanted,
    standing=None,
)
ANIMAL_WORD = NoticeKind(
    name="animal-word",
    word=_("word of the animal, or none where it was due"),
    template="new_report",
    origin=ANIMALS,
    asks=_stands,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (ANIMAL_WORD,)
