"""What makes a contact more urgent: WHO Expert Consultation on Rabies, TRS 1012 (2018), from memory."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from safety.models import BodySite
from safety.rules.case.category import Answer, ContactFact, ContactKind
from safety.rules.case.urgency import UrgencyReason, WoundFact, urgency_reasons

BITTEN = ContactFact(ContactKind.BITTEN, Answer.YES, Answer.YES)
TABLE = json.loads((Path(__file__).parent.parent / "urgency_cases.json").read_text())["cases"]
LICKED = ContactFact(ContactKind.LICKED_INTACT_SKIN, Answer.NO, Answer.NO)


def reasons(*wounds: WoundFact, species: str = "dog-roaming") -> tuple[UrgencyReason, ...]:
    return urgency_reasons(wounds=wounds, species=species)


def wound(said: dict[str, str]) -> WoundFact:
    contact = ContactFact(ContactKind(said["contact"]), Answer(said["broke_skin"]), Answer(said["bled"]))
    return WoundFact(contact, said["body_site"], Answer(said["deep"]))


@pytest.mark.parametrize("case", TABLE, ids=lambda case: case["name"])
def test_the_table(case: dict[str, Any]) -> None:
    assert list(reasons(*map(wound, case["wounds"]), species=case["animal"])) == case["urgent"]


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        (BodySite.HEAD_FACE_NECK, (UrgencyReason.HEAD_FACE_NECK,)),
        (BodySite.HAND, (UrgencyReason.HANDS,)),
        (BodySite.GENITALS, (UrgencyReason.GENITALS,)),
        (BodySite.ARM, ()),
        (BodySite.TRUNK, ()),
        (BodySite.LEG, ()),
        (BodySite.FOOT, ()),
        (BodySite.UNKNOWN, ()),
    ],
)
def test_where_on_the_body(place: str, expected: tuple[UrgencyReason, ...]) -> None:
    assert reasons(WoundFact(BITTEN, place)) == expected


def test_every_place_of_the_report_is_one_the_rule_was_asked_about() -> None:
    assert len(BodySite.values) == 8


@pytest.mark.parametrize(
    ("deep", "raised"), [(Answer.YES, True), (Answer.NO, False), (Answer.UNKNOWN, False)]
)
def test_a_deep_wound(deep: Answer, raised: bool) -> None:
    assert (UrgencyReason.DEEP in reasons(WoundFact(BITTEN, "leg", deep))) is raised


def test_two_wounds_are_several_and_one_is_not() -> None:
    assert reasons(WoundFact(BITTEN, "leg")) == ()
    assert reasons(WoundFact(BITTEN, "leg"), WoundFact(BITTEN, "arm")) == (UrgencyReason.SEVERAL,)


def test_a_lick_on_unbroken_skin_of_the_hand_raises_nothing_and_is_no_second_wound() -> None:
    assert reasons(WoundFact(LICKED, "hand")) == ()
    assert reasons(WoundFact(LICKED, "hand"), WoundFact(BITTEN, "leg")) == ()


def test_contact_nobody_can_rule_out_counts_and_stated_absence_does_not() -> None:
    assert reasons(WoundFact(ContactFact(ContactKind.UNKNOWN), "hand")) == (UrgencyReason.HANDS,)
    assert reasons(WoundFact(ContactFact(ContactKind.NONE), "hand")) == ()


def test_a_bat_raises_urgency_even_where_nobody_saw_a_contact() -> None:
    assert UrgencyReason.BAT in reasons(WoundFact(LICKED, "leg"), species="bat")
    assert reasons(WoundFact(ContactFact(ContactKind.NONE), "leg"), species="bat") == (UrgencyReason.BAT,)
    assert urgency_reasons(wounds=[], species="bat") == ()


def test_everything_at_once_is_said_at_once() -> None:
    every = reasons(
        *(WoundFact(BITTEN, place, Answer.YES) for place in ("head-face-neck", "hand", "genitals")),
        species="bat",
    )
    assert every == tuple(UrgencyReason)
