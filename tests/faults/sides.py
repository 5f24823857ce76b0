"""The sides that meet in a race for the roster, and the scene they meet on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from staff.models import Assignment, Crew, Dose, Outing, Person
    from tests.factories import Team

Act = Callable[["Scene"], object]


@dataclass
class Scene:
    """What one round is played on. The person is on `other`, a day after `outing`; `third` is on the date of `outing`."""

    team: Team
    person: Person
    colleague: Person
    doses: list[Dose]
    outing: Outing
    crew: Crew
    on_it: Assignment
    other: Outing
    third: Outing
    now: datetime


def set_up(team: Team, number: int, now: datetime) -> Scene:
    from staff.services.outing.roster import roster_assign  # noqa: PLC0415  (Django is set up by main)
    from tests.factories import give_doses, make_outing, make_person  # noqa: PLC0415

    person = make_person(team.site, team.officer, now, number=f"a{number}")
    colleague = make_person(team.site, team.officer, now, number=f"b{number}")
    # Who leaves the team on the tenth day is clear until then and not on the day after.
    person.active_until = team.site.local_date(now) + timedelta(days=10)
    person.save(update_fields=["active_until"])
    doses = give_doses(person, team.officer, now, 30, 23, 2)
    give_doses(colleague, team.officer, now, 30, 23, 9)
    outing, crew = make_outing(team.site, team.officer, now)
    # Somebody is on it already, so that moving and cancelling have a person to lock.
    on_it = roster_assign(
        actor=team.officer, outing=outing, crew=crew, person=colleague, role="lead", now=now
    )
    other, other_crew = make_outing(team.site, team.officer, now, days_ahead=4)
    roster_assign(actor=team.officer, outing=other, crew=other_crew, person=person, role="catcher", now=now)
    third, _crew = make_outing(team.site, team.officer, now)
    return Scene(team, person, colleague, doses, outing, crew, on_it, other, third, now)


def assign(scene: Scene) -> object:
    from staff.services.outing.roster import roster_assign  # noqa: PLC0415

    return roster_assign(
        actor=scene.team.officer,
        outing=scene.outing,
        crew=scene.crew,
        person=scene.person,
        role="catcher",
        now=scene.now,
    )


def insert(scene: Scene) -> object:
    """Past every service: the row as SQL, resting on the clearance that was true a moment ago."""
    from django.db import connection, transaction  # noqa: PLC0415

    from staff.models import Clearance  # noqa: PLC0415

    cover = Clearance.objects.filter(person=scene.person, superseded_on__isnull=True).first()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO staff_assignment (outing_id, crew_id, person_id, role, clearance_id,"
            " assigned_by_id, assigned_at) VALUES (%s, %s, %s, 'catcher', %s, %s, %s)",
            [
                scene.outing.pk,
                scene.crew.pk,
                scene.person.pk,
                cover.pk if cover else 0,
                scene.team.officer.pk,
                scene.now,
            ],
        )
    return None


def assign_third(scene: Scene) -> object:
    """The same person on another outing of the same date."""
    from staff.services.outing.roster import roster_assign  # noqa: PLC0415

    return roster_assign(
        actor=scene.team.officer,
        outing=scene.third,
        crew=scene.third.crews.get(),
        person=scene.person,
        role="catcher",
        now=scene.now,
    )


def move_onto(scene: Scene) -> object:
    """The outing that the person is on to the date on which the person may be elsewhere by then."""
    from staff.services.outing.outings import outing_move  # noqa: PLC0415

    return outing_move(actor=scene.team.officer, outing=scene.other, date=scene.outing.date, now=scene.now)


def raw_move_onto(scene: Scene) -> object:
    """The same past every service."""
    from staff.models import Outing  # noqa: PLC0415

    return Outing.objects.filter(pk=scene.other.pk).update(date=scene.outing.date)


def raw_move(scene: Scene) -> object:
    """To the day after the person's last one with the team, past every service."""
    from staff.models import Outing  # noqa: PLC0415

    day = scene.team.site.local_date(scene.now) + timedelta(days=11)
    return Outing.objects.filter(pk=scene.outing.pk).update(date=day)


def fill_proposed(scene: Scene) -> object:
    """Whatever the program proposes for the days of the scene."""
    from staff.selectors.outing.roster_board import roster_board  # noqa: PLC0415
    from staff.selectors.outing.roster_proposal import propose_roster  # noqa: PLC0415
    from staff.services.outing.roster_fill import roster_fill, roster_fingerprint  # noqa: PLC0415

    site, today = scene.team.site, scene.team.site.local_date(scene.now)
    plan = propose_roster(roster_board(site, scene.outing.date, 1), today).plan
    return roster_fill(
        actor=scene.team.officer,
        site=site,
        first=scene.outing.date,
        days=1,
        seen=roster_fingerprint(plan),
        now=scene.now,
    )


def void(scene: Scene) -> object:
    from staff.services.record.records import dose_void  # noqa: PLC0415

    return dose_void(actor=scene.team.officer, dose=scene.doses[-1], reason="race", now=scene.now)


def hold(scene: Scene) -> object:
    from staff.services.record.holds import hold_place  # noqa: PLC0415

    today = scene.team.site.local_date(scene.now)
    return hold_place(
        actor=scene.team.officer, person=scene.person, starts_on=today, reason="race", now=scene.now
    )


def move(scene: Scene) -> object:
    """To a day the colleague is cleared for and the person, whose third dose is too recent, isn't."""
    from staff.services.outing.outings import outing_move  # noqa: PLC0415

    day = scene.team.site.local_date(scene.now) + timedelta(days=1)
    return outing_move(actor=scene.team.officer, outing=scene.outing, date=day, now=scene.now)


def cancel(scene: Scene) -> object:
    from staff.services.outing.outings import outing_cancel  # noqa: PLC0415

    return outing_cancel(actor=scene.team.officer, outing=scene.outing, reason="race", now=scene.now)


def leave(scene: Scene) -> object:
    from staff.services.record.people import person_update  # noqa: PLC0415

    today = scene.team.site.local_date(scene.now)
    return person_update(actor=scene.team.officer, person=scene.person, now=scene.now, active_until=today)


def withdraw(scene: Scene) -> object:
    """The colleague, as the page showed the roster before the race."""
    from staff.services.outing.roster import roster_withdraw  # noqa: PLC0415

    return roster_withdraw(actor=scene.team.officer, assignment=scene.on_it, reason="race", now=scene.now)


def change_rules(scene: Scene) -> object:
    from staff.services.site.site_rules import site_rules_change  # noqa: PLC0415

    rules = scene.team.site.rules
    rules.refresh_from_db()
    return site_rules_change(
        actor=scene.team.officer,
        rules=rules,
        changes={"settling_days": 4 if rules.settling_days == 0 else 0},
        reason="race",
        now=scene.now,
    )


def hold_colleague(scene: Scene) -> object:
    from staff.services.record.holds import hold_place  # noqa: PLC0415

    today = scene.team.site.local_date(scene.now)
    return hold_place(
        actor=scene.team.officer, person=scene.colleague, starts_on=today, reason="race", now=scene.now
    )


# Pairs of sides that meet. The last ones take locks in what would be opposite orders.
PAIRS: tuple[tuple[Act, Act], ...] = (
    *((assign, other) for other in (void, hold, move, cancel, leave, change_rules)),
    *((insert, other) for other in (void, hold, move, cancel, leave, change_rules)),
    (move, hold_colleague),
    (cancel, hold_colleague),
    (withdraw, hold_colleague),
    (move, withdraw),
    (change_rules, move),
    (assign, assign),
    # Nobody is in two places on one date.
    *((one, other) for one in (assign, insert) for other in (assign_third, move_onto, raw_move_onto)),
    *((one, raw_move) for one in (assign, insert)),
    *((fill_proposed, other) for other in (hold, assign, void, move)),
)
# What raw SQL is refused with is the database's own word.
RAW = frozenset({insert, raw_move, raw_move_onto})
