"""Which dates an account's calendar holds, by what the account may see today."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from safety.models import CalendarFeed, Observation, PlannedDose
from safety.rules.animal.observation import Watch
from safety.rules.notices.references import Letter, reference
from safety.selectors.animal.observation import state_of, unsettled_observations
from safety.selectors.case.cases import doses_due
from staff.models import Assignment, Person, Session, SessionPlace, User
from staff.selectors.access import LIAISON, OFFICER, own_person, sites_as

# What went by stays in the calendar for so long, and so does the word that something was called off.
KEPT = timedelta(days=30)


@dataclass(frozen=True)
class Dated:
    """One date of somebody: what it is (`thing` is never shown), when, and where to sign in and read about it."""

    thing: str
    reference: str
    path: str
    starts_on: date
    starts_at: datetime | None = None


def feed_of(user: User) -> CalendarFeed | None:
    """The account's feed, live or ended."""
    return CalendarFeed.objects.filter(user=user).first()


def person_feed(person: Person) -> CalendarFeed | None:
    """The person's own feed, which needs no account; None once it has ended."""
    return CalendarFeed.objects.filter(person=person, ended_at__isnull=True).first()


def dates_of(feed: CalendarFeed, now: datetime) -> dict[str, Dated]:
    """Every date of the feed's owner, by thing; the same number of queries however many.

    As a team member the own doses, sessions and outings; as officer or liaison of a site its doses due and the last
    days of its animals. An account that is switched off has none.
    """
    rows = [*_of_account(feed.user, now)] if feed.user else []
    if feed.person:
        rows += _of_person(feed.person, now)
    return {row.thing: row for row in rows}


def _of_account(user: User, now: datetime) -> Iterator[Dated]:
    if not user.is_active:
        return
    yield from _of_sites(user)
    if person := own_person(user):
        yield from _of_person(person, now)


def _of_sites(user: User) -> Iterator[Dated]:
    yield from map(_dose, doses_due(sites_as(user, OFFICER, LIAISON)))
    yield from map(_last_day, filter(_watched, unsettled_observations(sites_as(user, OFFICER, LIAISON))))


def _of_person(person: Person, now: datetime) -> Iterator[Dated]:
    since = now.date() - KEPT
    own = PlannedDose.objects.filter(
        course__person=person, course__ended_on__isnull=True, given_on__isnull=True
    )
    yield from map(_dose, own.select_related("course__incident"))
    places = SessionPlace.objects.filter(person=person, session__held_on__gte=since)
    stands = places.exclude(outcome=SessionPlace.Outcome.MOVED).exclude(
        session__state=Session.State.CANCELLED
    )
    yield from map(_session, stands.select_related("session__site"))
    assigned = Assignment.objects.filter(
        person=person, outing__date__gte=since, outing__cancelled_at__isnull=True
    )
    yield from map(_outing, assigned.select_related("outing__site"))


def _dose(dose: PlannedDose) -> Dated:
    incident = dose.course.incident
    thing = f"dose:{dose.course.key}:{dose.number}"
    return Dated(thing, incident.reference, f"/cases/{incident.reference}/", dose.due_on)


def _watched(observation: Observation) -> bool:
    # Whether the last day is reached doesn't matter here: the date stands until somebody says how it ended.
    return state_of(observation, observation.last_on) is Watch.LAST_DAY


def _last_day(observation: Observation) -> Dated:
    reference = observation.incident.reference
    return Dated(f"watch:{observation.pk}", reference, f"/cases/{reference}/", observation.last_on)


def _session(place: SessionPlace) -> Dated:
    session = place.session
    starts_at = datetime.combine(session.held_on, session.opens_at, session.site.zone).astimezone(UTC)
    return Dated(
        f"session:{session.key}", reference(Letter.SESSION, session.pk), "/me/", session.held_on, starts_at
    )


def _outing(assignment: Assignment) -> Dated:
    outing = assignment.outing
    thing, path = f"outing:{outing.pk}", f"/outings/{outing.pk}/"
    return Dated(thing, reference(Letter.OUTING, outing.pk), path, outing.date, outing.starts_at)
