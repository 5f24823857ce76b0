"""The bodies of the kinds of message, as values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from safety.models import Animal, AnimalSign, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.services.case.incident_checks import contradicts
from safety.services.case.incident_facts import CaseFacts, Place, SpellReport, Washing, WoundReport
from safety.services.phone.reading import Said

MOST_DOGS = 10_000


@dataclass(frozen=True)
class PhoneReport(CaseFacts):
    """A report as a phone tells it. `faults` are fields that couldn't be read or denied what happened."""

    person: int | None = None
    faults: tuple[str, ...] = ()


@dataclass(frozen=True)
class Handled:
    day: date
    outing: int | None
    counts: Mapping[str, int]
    faults: tuple[str, ...]


def read_alarm(body: Mapping[str, Any], made_at: datetime) -> PhoneReport:
    """Washing began, and nothing else is known yet."""
    said = Said(body)
    started_at = said.instant("started_at") or made_at
    spell = SpellReport(started_at, soap=_answer(said, "soap"))
    return PhoneReport(
        person=said.whole("person"),
        kind=Kind.OTHER,
        happened_at=started_at,
        washing=Washing((spell,)),
        complete=False,
        faults=tuple(said.faults),
    )


def read_report(body: Mapping[str, Any], made_at: datetime) -> PhoneReport:
    said = Said(body)
    kind = said.choice("kind", Kind.values, Kind.OTHER)
    place = said.part("place")
    return PhoneReport(
        person=said.whole("person"),
        kind=kind,
        happened_at=said.instant("happened_at") or made_at,
        wounds=tuple(_wound(wound, kind) for wound in said.parts("wounds")),
        animal=said.choice("animal", Animal.values, Animal.UNKNOWN),
        animal_facts=_animal_facts(said.part("animal_facts")),
        task=said.choice("task", Task.values, Task.UNKNOWN),
        causes=said.choices("causes", Cause.values),
        others_hurt=_answer(said, "others_hurt"),
        narrative=said.text("narrative"),
        washing=_washing(said.part("washing")),
        place=_place(place) if place else None,
        complete=said.flag("complete", True),
        faults=tuple(said.faults),
    )


def read_wash(body: Mapping[str, Any]) -> tuple[Washing, tuple[str, ...]]:
    said = Said(body)
    return _washing(said), tuple(said.faults)


def read_handled(body: Mapping[str, Any]) -> Handled | None:
    """None without a date: there is nothing to count it under."""
    said = Said(body)
    day, counts = said.day("date"), said.part("counts")
    if day is None or counts is None:
        return None
    known = {task: counts.whole(task, MOST_DOGS) for task in Task.values if task in counts.data}
    unknown = set(counts.data) - set(Task.values)
    return Handled(
        day=day,
        outing=said.whole("outing"),
        counts={task: count for task, count in known.items() if count is not None},
        faults=(*said.faults, *(f"counts.{task}" for task in sorted(unknown))),
    )


def _answer(said: Said, name: str) -> str:
    return said.choice(name, Answer.values, Answer.UNKNOWN)


def _wound(said: Said, kind: str) -> WoundReport:
    contact = said.choice("contact", ContactKind.values, ContactKind.UNKNOWN)
    if contradicts(kind, contact):
        # A report of contact must not be made harmless by an answer that denies it.
        said.faults.append(f"{said.path}.contact")
        contact = ContactKind.UNKNOWN
    return WoundReport(
        contact=contact,
        body_site=said.choice("body_site", BodySite.values, BodySite.UNKNOWN),
        broke_skin=_answer(said, "broke_skin"),
        bled=_answer(said, "bled"),
        deep=_answer(said, "deep"),
    )


def _animal_facts(said: Said | None) -> dict[str, Any]:
    said = said or Said({})
    return {
        "collar": _answer(said, "collar"),
        "signs": list(said.choices("signs", AnimalSign.values)),
        "can_be_watched": _answer(said, "can_be_watched"),
        "owner_known": _answer(said, "owner_known"),
    }


def _washing(said: Said | None) -> Washing:
    if said is None:
        return Washing()
    spells = [spell for part in said.parts("spells") if (spell := _spell(part)) is not None]
    return Washing(
        spells=tuple({spell.started_at: spell for spell in spells}.values()),
        not_washed=said.flag("stated_not_washed", False),
        antiseptic=_answer(said, "antiseptic"),
    )


def _spell(said: Said) -> SpellReport | None:
    started_at, stopped_at = said.instant("started_at"), said.instant("stopped_at")
    if started_at is None:
        said.faults.append(f"{said.path}.started_at")
        return None
    if stopped_at is not None and stopped_at < started_at:
        # A clock set back meanwhile: the spell is known, its length isn't.
        said.faults.append(f"{said.path}.stopped_at")
        stopped_at = started_at
    return SpellReport(started_at, stopped_at, _answer(said, "soap"), _answer(said, "running_water"))


def _place(said: Said) -> Place | None:
    latitude, longitude = said.number("latitude", -90, 90), said.number("longitude", -180, 180)
    if latitude is None or longitude is None:
        said.faults.append(said.path)
        return None
    return Place(latitude, longitude, said.number("accuracy_m", 0, 1e7))
