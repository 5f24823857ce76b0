"""What a phone may read: the field card of a site. There is nothing about any person in it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet

from safety.models import Clinic, Incident, PhoneLink, PhoneMessage
from safety.rules.clinic.clinic_choice import Span
from safety.rules.notices.local_time import offsets_between
from safety.selectors.clinic.clinic_choice import AHEAD, clinic_of_the_day, holidays_around, open_times
from safety.selectors.clinic.clinics import clinics_of
from staff.models import Person, User
from staff.selectors.access import OFFICER, sites_as


@dataclass(frozen=True)
class ClinicOnCard:
    """`open` is None when the hours aren't known: such a clinic is never called open."""

    id: int
    name: str
    phone: str
    address: str
    latitude: float | None
    longitude: float | None
    vaccine: str
    immunoglobulin: str
    confirmed_on: date | None
    open: list[tuple[datetime, datetime]] | None
    hours: str


@dataclass(frozen=True)
class FieldCard:
    """`open_until`: open times are worked out so far; later nobody knows.

    `clinic_of_the_day` is the one the holder's crew goes by on `day`, the site's date. `offsets`: from which instant
    on the site's clocks are how many minutes ahead of UTC, so that phone and service show the same times.
    """

    site: str
    zone: str
    language: str
    emergency_number: str
    authority: str
    wash_minutes: int
    travel_kmh: int
    clinic_news_days: int
    clinic_of_day_minutes: int
    immunoglobulin_minutes: int
    clinics: list[ClinicOnCard]
    day: date
    clinic_of_the_day: int | None
    offsets: list[tuple[datetime, int]]
    open_until: datetime
    made_at: datetime


def field_card(holder: Person, now: datetime) -> FieldCard:
    site = holder.site
    end = now + AHEAD
    holidays = holidays_around(site, now, end)
    return FieldCard(
        site=site.name,
        zone=site.time_zone,
        language=site.language,
        emergency_number=site.emergency_number,
        authority=site.authority,
        wash_minutes=site.rules.wash_minutes,
        travel_kmh=site.rules.travel_kmh,
        clinic_news_days=site.rules.clinic_news_days,
        clinic_of_day_minutes=site.rules.clinic_of_day_minutes,
        immunoglobulin_minutes=site.rules.immunoglobulin_minutes,
        clinics=[
            _clinic(clinic, open_times(clinic, site, holidays=holidays, start=now, end=end))
            for clinic in clinics_of(site)
        ],
        day=site.local_date(now),
        clinic_of_the_day=clinic_of_the_day(site, now, person=holder),
        offsets=offsets_between(now - timedelta(days=1), end, site.zone),
        open_until=end,
        made_at=now,
    )


def _clinic(clinic: Clinic, spans: list[Span] | None) -> ClinicOnCard:
    return ClinicOnCard(
        id=clinic.pk,
        name=clinic.name,
        phone=clinic.phone,
        address=clinic.address,
        latitude=clinic.latitude,
        longitude=clinic.longitude,
        vaccine=clinic.vaccine,
        immunoglobulin=clinic.immunoglobulin,
        confirmed_on=clinic.confirmed_on,
        open=None if spans is None else [(span.opens_at, span.closes_at) for span in spans],
        hours=clinic.hours,
    )


def people_with_cards(user: User) -> QuerySet[Person]:
    """Whose link `user` may make or renew: one's own, and as officer those of the people of the site."""
    return (
        Person.objects.filter(Q(user=user) | Q(site__in=sites_as(user, OFFICER)))
        .select_related("site__rules", "user")
        .distinct()
    )


def live_link(person: Person) -> PhoneLink | None:
    return PhoneLink.objects.filter(person=person, ended_at__isnull=True).select_related("made_by").first()


def messages_held_for(user: User) -> QuerySet[PhoneMessage]:
    """Held messages of the sites as officer; those that name no link wait for any officer who takes them."""
    own = Q(link__person__site__in=sites_as(user, OFFICER)) | Q(settled_by=user)
    return (
        PhoneMessage.objects.filter(own | Q(link__isnull=True, settled_by__isnull=True))
        .filter(state=PhoneMessage.State.HELD)
        .select_related("link__person__site__rules", "incident__site")
    )


def reports_held_for(user: User) -> QuerySet[PhoneMessage]:
    """Those behind which somebody may be hurt: a message of unknown kind may be a report, a count of dogs is none."""
    return messages_held_for(user).exclude(kind=PhoneMessage.COUNT)


def messages_read_by(user: User) -> QuerySet[PhoneMessage]:
    """Messages whose content `user` may read: of links of the sites as officer, and those one has taken."""
    return PhoneMessage.objects.filter(
        Q(link__person__site__in=sites_as(user, OFFICER)) | Q(link__isnull=True, settled_by=user)
    ).select_related("link__person__site__rules", "incident__site", "settled_by")


def messages_of(incident: Incident) -> QuerySet[PhoneMessage]:
    """Messages about a case at which there is something to ask or to read."""
    return PhoneMessage.objects.filter(incident=incident).exclude(reason="").order_by("made_at", "pk")
