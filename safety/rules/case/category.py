"""The exposure category that the answers about a contact suggest; a clinician decides it.

From the WHO table (position paper 2018, read in a secondary copy). National tables that number categories
1, 2 and 3 may mean other things and are never mapped onto this one.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum, StrEnum


class ContactKind(StrEnum):
    TOUCHED = "touched"
    LICKED_INTACT_SKIN = "licked-intact-skin"
    NIBBLED_UNCOVERED_SKIN = "nibbled-uncovered-skin"
    SCRATCHED = "scratched"
    BITTEN = "bitten"
    LICKED_BROKEN_SKIN = "licked-broken-skin"
    SPLASHED_EYE_NOSE_MOUTH = "splashed-eye-nose-mouth"
    NEEDLESTICK = "needlestick"
    NONE = "none"
    UNKNOWN = "unknown"


class Answer(StrEnum):
    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class Category(IntEnum):
    I = 1  # noqa: E741 - the category's own name
    II = 2
    III = 3


class CategoryReason(StrEnum):
    """Why a category is suggested, or why none is."""

    NOT_RECORDED = "not-recorded"
    NO_CONTACT = "no-contact"
    NEEDLESTICK_ASK_CLINICIAN = "needlestick-ask-clinician"
    BAT_NEAR_ASK_CLINICIAN = "bat-near-ask-clinician"
    BAT_CONTACT = "bat-contact"
    CONTACT_UNKNOWN = "contact-unknown"
    SKIN_UNKNOWN = "skin-unknown"
    SKIN_BROKEN = "skin-broken"
    BLED = "bled"
    SALIVA_ON_BROKEN_SKIN = "saliva-on-broken-skin"
    SALIVA_ON_EYE_NOSE_MOUTH = "saliva-on-eye-nose-mouth"
    SKIN_NOT_BROKEN = "skin-not-broken"
    INTACT_SKIN_ONLY = "intact-skin-only"


@dataclass(frozen=True)
class ContactFact:
    """One contact as reported. `broke_skin` and `bled` are what the contact itself did."""

    kind: ContactKind
    broke_skin: Answer = Answer.UNKNOWN
    bled: Answer = Answer.UNKNOWN


@dataclass(frozen=True)
class Suggestion:
    """The highest category of all contacts, with the reasons for it; None with reasons when there is none."""

    category: Category | None
    reasons: tuple[CategoryReason, ...]


_SALIVA = {
    ContactKind.LICKED_BROKEN_SKIN: CategoryReason.SALIVA_ON_BROKEN_SKIN,
    ContactKind.SPLASHED_EYE_NOSE_MOUTH: CategoryReason.SALIVA_ON_EYE_NOSE_MOUTH,
}
_INTACT = {ContactKind.TOUCHED, ContactKind.LICKED_INTACT_SKIN}


def suggest_category(*, contacts: Iterable[ContactFact], species: str) -> Suggestion:
    """Suggest a category for everything reported about one exposure to one animal of `species` (as "dog").

    An unknown answer never lowers the category: a bite whose skin nobody looked at is III. A needlestick with
    animal vaccine is not in the WHO table and gets no category, only the advice to ask the clinician. No
    contact on record is told apart from a record that says there was none.
    """
    judged = [_judge(contact, is_bat=species.strip().casefold() == "bat") for contact in contacts]
    if not judged:
        return Suggestion(None, (CategoryReason.NOT_RECORDED,))
    highest = max((category for category, _ in judged if category is not None), default=None)
    reasons = {reason for category, reason in judged if category in (highest, None)}
    if highest is not None:
        reasons.discard(CategoryReason.NO_CONTACT)
    return Suggestion(highest, tuple(sorted(reasons, key=list(CategoryReason).index)))


def _judge(contact: ContactFact, *, is_bat: bool) -> tuple[Category | None, CategoryReason]:
    if contact.kind is ContactKind.NONE:
        return None, CategoryReason.BAT_NEAR_ASK_CLINICIAN if is_bat else CategoryReason.NO_CONTACT
    if contact.kind is ContactKind.NEEDLESTICK:
        return None, CategoryReason.NEEDLESTICK_ASK_CLINICIAN
    if is_bat:
        return Category.III, CategoryReason.BAT_CONTACT
    if contact.kind in _SALIVA:
        return Category.III, _SALIVA[contact.kind]
    if contact.kind is ContactKind.UNKNOWN:
        return Category.III, CategoryReason.CONTACT_UNKNOWN
    return _judge_skin(contact)


def _judge_skin(contact: ContactFact) -> tuple[Category, CategoryReason]:
    """Touch, lick on intact skin, nibble, scratch or bite: what it did to the skin decides.

    Touch and lick on intact skin name the skin in the answer itself, so only a plain yes lifts them.
    """
    if contact.bled is Answer.YES:
        return Category.III, CategoryReason.BLED
    if contact.broke_skin is Answer.YES:
        return Category.III, CategoryReason.SKIN_BROKEN
    if contact.kind in _INTACT:
        return Category.I, CategoryReason.INTACT_SKIN_ONLY
    if Answer.UNKNOWN in (contact.broke_skin, contact.bled):
        return Category.III, CategoryReason.SKIN_UNKNOWN
    return Category.II, CategoryReason.SKIN_NOT_BROKEN
