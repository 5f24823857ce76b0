"""A crew's day as it stands: who records it, whether it left and is back, and without what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from safety.models import CrewReturn, Departure, Missing, Stock
from safety.rules.crew_day.outing_day import Day, Readied, leaving_day, missing_before_leaving, return_day
from staff.models import Assignment, Crew, CrewRole, Outing, Person, Site, User
from staff.selectors.access import LEAD, LIAISON, OFFICER, has_role, sites_as
from staff.selectors.outing.on_crews import people_on
from staff.selectors.outing.roster import lacking_words
from staff.selectors.record.readiness import readiness
from staff.selectors.record.voidable import standing_or_last


def crews_led_by(user: User) -> QuerySet[Crew]:
    """Crews whose leaving and coming back `user` records: as officer or crew lead of the site, or on the crew as its lead."""
    leads = Assignment.objects.filter(crew=OuterRef("pk"), person__user=user, role=CrewRole.LEAD)
    return Crew.objects.filter(
        Q(outing__site__in=sites_as(user, OFFICER, LEAD)) | Exists(leads)
    ).select_related("outing__site__rules")


def leads_crew(user: User, crew: Crew) -> bool:
    return crews_led_by(user).filter(pk=crew.pk).exists()


def reads_reasons(user: User, site: Site) -> bool:
    """Whether `user` may read why somebody isn't clear: a crew lead only learns that they aren't."""
    return has_role(user, site, OFFICER, LIAISON)


def departure_of(crew: Crew) -> Departure | None:
    """The one that stands."""
    rows = Departure.objects.filter(crew=crew).select_related("clinic", "recorded_by", "crew__outing__site")
    return rows.prefetch_related("people__person", "people__instead_of").first()


def return_of(crew: Crew) -> CrewReturn | None:
    rows = CrewReturn.objects.filter(crew=crew).select_related("recorded_by", "crew__outing__site")
    return rows.prefetch_related("tallies").first()


def newest_departure(crew: Crew) -> Departure | None:
    return standing_or_last(Departure.everything.filter(crew=crew).select_related("crew__outing__site"))


def newest_return(crew: Crew) -> CrewReturn | None:
    return standing_or_last(CrewReturn.everything.filter(crew=crew).select_related("crew__outing__site"))


def missing_of(departure: Departure, absent: Sequence[Person]) -> tuple[Missing, ...]:
    """What the crew leaves without, by the facts as they are recorded; `absent`: those in whose place nobody goes."""
    facts = Readied(
        everybody=not absent,
        every_role=not departure.roles_missing,
        helmets=departure.helmets,
        clothing=departure.clothing,
        kit=departure.kit,
        clinic_open=departure.clinic_open,
        vaccine=departure.vaccine == Stock.YES,
        immunoglobulin=departure.immunoglobulin == Stock.YES,
        briefing=departure.briefing,
    )
    return tuple(Missing(code.value) for code in missing_before_leaving(facts))


def absent_of(departure: Departure) -> list[Person]:
    """Who was absent and had nobody go in their place."""
    rows = list(departure.people.all())
    replaced = {row.instead_of_id for row in rows}
    return [row.person for row in rows if not row.present and row.person_id not in replaced]


def without_words(departure: Departure, absent: Sequence[Person]) -> list[str]:
    """What the crew goes without (`missing_of`), each in words; people by name."""
    words: list[str] = []
    for code in missing_of(departure, absent):
        if code == Missing.PEOPLE:
            words += [person.name for person in absent]
        elif code == Missing.ROLES:
            words += [lacking_words(role, number) for role, number in departure.roles_missing.items()]
        else:
            words.append(str(code.label))
    return words


def offered_people(outing: Outing) -> list[Person]:
    """Who is clear on the outing's date and on no outing of it, with their crew roles: names alone, for whoever replaces somebody."""
    out = people_on(outing__date=outing.date, outing__cancelled_at__isnull=True)
    free = Person.objects.filter(site=outing.site).exclude(pk__in=out)
    rows = readiness(free.prefetch_related("crew_roles"), outing.date, [outing.site])
    return [row.person for row in rows if row.clear]


@dataclass(frozen=True)
class CrewDay:
    """What an outing's page shows of a crew. `records`: the reader may record it; `may_leave` and `may_return`: now."""

    crew: Crew
    departure: Departure | None
    left_at: str
    without: list[str]
    back: CrewReturn | None
    records: bool
    sees_reason: bool
    may_leave: bool
    may_return: bool
    # What was recorded in error, in words, for whoever reads the reasons.
    voided: tuple[str, ...] = ()


def crew_day(user: User, crew: Crew, now: datetime) -> CrewDay:
    outing = crew.outing
    records, left, back = leads_crew(user, crew), departure_of(crew), return_of(crew)
    today, stands = outing.site.local_date(now), outing.cancelled_at is None
    sees_reason = records or reads_reasons(user, outing.site)
    return CrewDay(
        crew=crew,
        departure=left,
        left_at=f"{left.recorded_at.astimezone(outing.site.zone):%H:%M}" if left else "",
        without=without_words(left, absent_of(left)) if left else [],
        back=back,
        records=records,
        sees_reason=sees_reason,
        may_leave=records and stands and not left and leaving_day(outing.date, today) is Day.OPEN,
        may_return=records and stands and not back and return_day(outing.date, today) is Day.OPEN,
        voided=voided_words(crew) if sees_reason else (),
    )


def voided_words(crew: Crew) -> tuple[str, ...]:
    """What of the crew's day was recorded in error, with who voided it and why."""
    rows: list[tuple[str, Departure | CrewReturn]] = []
    for words, model in ((_("Leaving of %(at)s"), Departure), (_("Return of %(at)s"), CrewReturn)):
        gone = model.everything.filter(crew=crew, voided_at__isnull=False).select_related("voided_by")
        rows += [(words, row) for row in gone]
    zone = crew.outing.site.zone
    return tuple(
        words % {"at": f"{row.recorded_at.astimezone(zone):%H:%M}"}
        + ": "
        + _("voided by %(who)s, %(why)s") % {"who": row.voided_by, "why": row.void_reason}
        for words, row in rows
    )
