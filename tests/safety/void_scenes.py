"""One entry of every kind that can be voided: how it comes to be, what voids it, and who reads it."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from importlib import import_module
from pkgutil import walk_packages
from typing import Any

from django.urls import reverse

import safety.services
import staff.services
from safety.letter.facts import letter_facts
from safety.models import (
    AnimalCheck,
    AnimalOutcome,
    CrewReturn,
    Departure,
    Incident,
    Observation,
    Referral,
    Visit,
    WashSpell,
)
from safety.selectors.animal.observation import observation_of, state_of, words_of
from safety.selectors.case.cases import incidents_listed_for, washing_of
from safety.selectors.case.needs import needs_of
from safety.selectors.crew_day.outing_day import crew_day, departure_of
from safety.selectors.lessons.denominators import denominators
from safety.services.animal.observation import check_record, observation_begin, outcome_record
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.referrals import referral_make
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_record
from safety.services.case.washing import wash_add
from staff.models import ClearanceLetter, CommunityNotice, Crew, Dose, Outing, Titre, Voidable
from staff.selectors.campaign.community import community_state
from staff.selectors.record.record_sheet import record_sheet
from staff.selectors.record.records import facts_of
from staff.services.campaign.community import community_told_record
from staff.services.record.letters import immunocompromised_set, letter_add
from staff.services.record.records import dose_record
from staff.services.record.titres import titre_record
from staff.services.voiding import VoidRule
from tests.documents import picture
from tests.factories import Team, make_outing
from tests.safety.outing_day.scenes import Day, make_day

MINUTE = timedelta(minutes=1)


@dataclass
class Scene:
    team: Team
    now: datetime
    incident: Incident
    outing: Outing
    crew: Crew
    day: Day | None = None

    @property
    def case(self) -> Incident:
        """As a page fetches it."""
        return incidents_listed_for(self.team.officer).get(pk=self.incident.pk)

    @property
    def steps(self) -> list[str]:
        return [need.code for need in needs_of(self.case, self.now)]


@dataclass(frozen=True)
class Kind:
    """`make` records one, `read` is everything that reads it, `door` the address that voids it, `shown` the page of
    its history; `before` what has to be there."""

    model: type[Voidable]
    make: Callable[[Scene], Any]
    read: Callable[[Scene], Any]
    door: Callable[[Scene, Any], str]
    shown: Callable[[Scene], str]
    before: Callable[[Scene], object] = lambda _scene: None

    def __str__(self) -> str:
        return self.model.__name__


def make_scene(team: Team, now: datetime, kind: Kind) -> Scene:
    bite = WoundReport("bitten", "hand", "yes", "yes")
    report = IncidentReport(kind="bite", happened_at=now - 20 * MINUTE, wounds=(bite,), animal="dog-owned")
    said = incident_report(actor=team.officer, person=team.person, key=uuid.uuid4(), report=report, now=now)
    if kind.model in (Departure, CrewReturn):
        day = make_day(team, now)
        scene = Scene(team, now, said.incident, day.outing, day.crew, day)
    else:
        scene = Scene(team, now, said.incident, *make_outing(team.site, team.officer, now))
    kind.before(scene)
    return scene


def _watch(scene: Scene) -> Observation:
    return observation_begin(
        actor=scene.team.officer, incident=scene.incident, described="brown dog", now=scene.now
    )


def _today(scene: Scene) -> Any:
    return scene.team.site.local_date(scene.now)


def _watched(scene: Scene) -> Observation:
    found = observation_of(scene.incident)
    assert found is not None
    return found


def _dose(scene: Scene) -> Dose:
    given_on = _today(scene) - timedelta(days=9)
    return dose_record(
        actor=scene.team.officer, person=scene.team.person, given_on=given_on, now=scene.now, route="IM"
    )


def _doses_read(scene: Scene) -> Any:
    shown = record_sheet(scene.team.person, _today(scene))
    given = letter_facts(scene.incident, None, scene.now)
    due = shown.outlook.doses if shown.outlook else ()
    counted = sum(line.counts is True for line in shown.lines)
    return due, counted, given.doses, given.record.doses, list(scene.team.person.doses.all())


def _titre(scene: Scene) -> Titre:
    return titre_record(
        actor=scene.team.officer,
        person=scene.team.person,
        taken_on=_today(scene),
        iu_per_ml=Decimal("0.1"),
        now=scene.now,
    )


def _letter(scene: Scene) -> ClearanceLetter:
    return letter_add(
        actor=scene.team.officer,
        person=scene.team.person,
        clinician="Test Clinician",
        signed_on=_today(scene),
        valid_until=_today(scene),
        content=picture(),
        now=scene.now,
    )


def _immunocompromised(scene: Scene) -> None:
    immunocompromised_set(
        actor=scene.team.officer,
        person=scene.team.person,
        immunocompromised=True,
        reason="said so",
        now=scene.now,
    )
    scene.team.person.refresh_from_db()


def _told(scene: Scene) -> CommunityNotice:
    return community_told_record(
        actor=scene.team.officer,
        outing=scene.outing,
        told_on=_today(scene),
        who="village elder",
        how="on foot",
        now=scene.now,
    )


def _spell(scene: Scene) -> WashSpell:
    began = scene.now - 15 * MINUTE
    return wash_add(
        actor=scene.team.officer,
        incident=scene.incident,
        started_at=began,
        stopped_at=began + 10 * MINUTE,
        soap="yes",
        now=scene.now,
    )


def _referral(scene: Scene) -> Referral:
    return referral_make(
        actor=scene.team.officer, incident=scene.incident, clinic=scene.team.clinic, now=scene.now
    )


def _visit(scene: Scene) -> Visit:
    return visit_record(
        actor=scene.team.officer,
        incident=scene.incident,
        clinic=scene.team.clinic,
        visited_on=_today(scene),
        decision="no-course",
        now=scene.now,
    )


def _check(scene: Scene) -> AnimalCheck:
    return check_record(
        observation=_watched(scene),
        actor=scene.team.officer,
        day=_today(scene),
        seen="ill",
        now=scene.now,
    )


def _outcome(scene: Scene) -> AnimalOutcome:
    return outcome_record(
        actor=scene.team.officer,
        observation=_watched(scene),
        outcome="escaped",
        known_on=_today(scene),
        now=scene.now,
    )


def _day_read(scene: Scene) -> Any:
    day = crew_day(scene.team.officer, scene.crew, scene.now)
    return departure_of(scene.crew), day.may_leave, day.may_return


def _rates(scene: Scene) -> Any:
    return denominators(scene.team.site, _today(scene), _today(scene))


def _person(scene: Scene) -> str:
    return reverse("person", args=[scene.team.person.pk])


def _case(scene: Scene) -> str:
    return reverse("case", args=[scene.incident.reference])


def _outing(scene: Scene) -> str:
    return reverse("outing", args=[scene.outing.pk])


def _at(name: str) -> Callable[[Scene, Any], str]:
    return lambda _scene, row: reverse(name, args=[row.pk])


def _of_case(name: str) -> Callable[[Scene, Any], str]:
    return lambda scene, row: reverse(name, args=[scene.incident.reference, row.pk])


def _of_crew(name: str) -> Callable[[Scene, Any], str]:
    return lambda scene, _row: reverse(name, args=[scene.outing.pk, scene.crew.pk])


def _leave(scene: Scene) -> Departure:
    assert scene.day is not None
    return scene.day.leave(by=scene.team.officer)


def _back(scene: Scene) -> CrewReturn:
    assert scene.day is not None
    return scene.day.back(by=scene.team.officer)


KINDS = (
    Kind(Dose, _dose, _doses_read, _at("dose-void"), _person),
    Kind(Titre, _titre, lambda s: facts_of(s.team.person).titres, _at("titre-void"), _person),
    Kind(
        ClearanceLetter,
        _letter,
        lambda s: facts_of(s.team.person).letters,
        _at("letter-void"),
        _person,
        _immunocompromised,
    ),
    Kind(
        CommunityNotice,
        _told,
        lambda s: community_state(Outing.objects.get(pk=s.outing.pk), _today(s)).code,
        _at("community-void"),
        _outing,
    ),
    Kind(Referral, _referral, lambda s: s.steps, _of_case("case-referral-void"), _case),
    Kind(Visit, _visit, lambda s: s.steps, _of_case("case-visit-void"), _case),
    Kind(
        WashSpell,
        _spell,
        lambda s: (washing_of(s.case, s.now), s.steps),
        _of_case("wash-void"),
        _case,
    ),
    Kind(
        Observation,
        _watch,
        lambda s: observation_of(s.incident),
        lambda s, _row: reverse("animal-void", args=[s.incident.reference]),
        _case,
    ),
    Kind(
        AnimalCheck,
        _check,
        lambda s: words_of(_watched(s)),
        _of_case("animal-check-void"),
        _case,
        _watch,
    ),
    Kind(
        AnimalOutcome,
        _outcome,
        lambda s: state_of(_watched(s), _today(s)),
        _of_case("animal-outcome-void"),
        _case,
        _watch,
    ),
    Kind(Departure, _leave, _day_read, _of_crew("crew-leaving-void"), _outing),
    Kind(CrewReturn, _back, _rates, _of_crew("crew-back-void"), _outing),
)


def void_rules() -> Iterator[VoidRule[Any, Any]]:
    """Every rule that stands in a service, as the program has them."""
    for package in (staff.services, safety.services):
        for found in walk_packages(package.__path__, f"{package.__name__}."):
            yield from {
                id(one): one for one in vars(import_module(found.name)).values() if isinstance(one, VoidRule)
            }.values()


def rule_of(kind: Kind) -> VoidRule[Any, Any]:
    return next(rule for rule in void_rules() if rule.model is kind.model)
