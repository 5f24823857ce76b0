"""What makes a category II or III contact more urgent still; a clinician decides.

Bites of head, face, neck, hands and genitals, several wounds, deep wounds and any contact with a bat: WHO Expert
Consultation on Rabies, third report (TRS 1012, 2018), from memory. Every such contact is for the same day anyway.
config/static/phone/questions.js says the same on the phone; tests/safety/urgency_cases.json holds both to one table.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from safety.rules.case.category import Answer, Category, CategoryReason, ContactFact, suggest_category


class UrgencyReason(StrEnum):
    BAT = "bat"
    HEAD_FACE_NECK = "head-face-neck"
    HANDS = "hands"
    GENITALS = "genitals"
    DEEP = "deep"
    SEVERAL = "several"


@dataclass(frozen=True)
class WoundFact:
    """One wound as reported; `body_site` as safety.models.BodySite names it."""

    contact: ContactFact
    body_site: str
    deep: Answer = Answer.UNKNOWN


_BODY = {
    "head-face-neck": UrgencyReason.HEAD_FACE_NECK,
    "hand": UrgencyReason.HANDS,
    "genitals": UrgencyReason.GENITALS,
}


def urgency_reasons(*, wounds: Iterable[WoundFact], species: str) -> tuple[UrgencyReason, ...]:
    """Why this exposure is more urgent than the same day; empty when nothing reported says so.

    Only wounds that may be category II or III raise it: a lick on unbroken skin of the hand does not. A bat
    raises it even where nobody saw a contact, for its bite is easily missed.
    """
    taken = list(wounds)
    counted = [wound for wound in taken if _may_be_exposure(wound, species)]
    found = {_BODY[wound.body_site] for wound in counted if wound.body_site in _BODY}
    if any(wound.deep is Answer.YES for wound in counted):
        found.add(UrgencyReason.DEEP)
    if len(counted) > 1:
        found.add(UrgencyReason.SEVERAL)
    if taken and species.strip().casefold() == "bat":
        found.add(UrgencyReason.BAT)
    return tuple(reason for reason in UrgencyReason if reason in found)


def _may_be_exposure(wound: WoundFact, species: str) -> bool:
    suggestion = suggest_category(contacts=[wound.contact], species=species)
    if suggestion.category is None:
        return CategoryReason.NO_CONTACT not in suggestion.reasons
    return suggestion.category > Category.I
