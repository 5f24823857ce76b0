"""Against the exposure categories of WHO, position paper, WER 2018;93(16):201-220 (read in a secondary copy)."""

from itertools import permutations, product

import pytest

from safety.rules.case.category import (
    Answer,
    Category,
    CategoryReason,
    ContactFact,
    ContactKind,
    suggest_category,
)

YES, NO, UNKNOWN = Answer.YES, Answer.NO, Answer.UNKNOWN
KINDS_WITHOUT_CATEGORY = {ContactKind.NONE, ContactKind.NEEDLESTICK}
BY_WHAT_IT_DID = {ContactKind.NIBBLED_UNCOVERED_SKIN, ContactKind.SCRATCHED, ContactKind.BITTEN}


def suggest(
    kind: ContactKind, broke_skin: Answer = NO, bled: Answer = NO, species: str = "dog"
) -> Category | None:
    return suggest_category(contacts=[ContactFact(kind, broke_skin, bled)], species=species).category


@pytest.mark.parametrize(
    ("kind", "broke_skin", "bled", "category"),
    [
        (ContactKind.TOUCHED, NO, NO, Category.I),
        (ContactKind.LICKED_INTACT_SKIN, NO, NO, Category.I),
        (ContactKind.NIBBLED_UNCOVERED_SKIN, NO, NO, Category.II),
        (ContactKind.SCRATCHED, NO, NO, Category.II),
        (ContactKind.BITTEN, YES, YES, Category.III),
        (ContactKind.BITTEN, YES, NO, Category.III),
        (ContactKind.SCRATCHED, YES, YES, Category.III),
        (ContactKind.LICKED_BROKEN_SKIN, NO, NO, Category.III),
        (ContactKind.SPLASHED_EYE_NOSE_MOUTH, NO, NO, Category.III),
    ],
)
def test_each_row_of_the_table(
    kind: ContactKind, broke_skin: Answer, bled: Answer, category: Category
) -> None:
    assert suggest(kind, broke_skin, bled) is category


@pytest.mark.parametrize("kind", sorted(set(ContactKind) - KINDS_WITHOUT_CATEGORY))
@pytest.mark.parametrize("species", ["bat", "Bat", " BAT "])
def test_any_direct_contact_with_a_bat_is_category_iii(kind: ContactKind, species: str) -> None:
    assert suggest(kind, species=species) is Category.III


def test_the_numbers_of_the_categories_are_the_tables_own() -> None:
    assert [(category.name, int(category)) for category in Category] == [("I", 1), ("II", 2), ("III", 3)]


def test_a_bite_that_did_not_break_the_skin_is_like_a_nibble() -> None:
    assert suggest(ContactKind.BITTEN) is Category.II


@pytest.mark.parametrize("kind", sorted(BY_WHAT_IT_DID))
@pytest.mark.parametrize(("broke_skin", "bled"), [(UNKNOWN, UNKNOWN), (UNKNOWN, NO), (NO, UNKNOWN)])
def test_skin_that_nobody_looked_at_is_taken_as_broken(
    kind: ContactKind, broke_skin: Answer, bled: Answer
) -> None:
    suggestion = suggest_category(contacts=[ContactFact(kind, broke_skin, bled)], species="dog")
    assert suggestion.category is Category.III
    assert suggestion.reasons == (CategoryReason.SKIN_UNKNOWN,)


@pytest.mark.parametrize("kind", sorted(set(ContactKind) - KINDS_WITHOUT_CATEGORY))
def test_an_unknown_answer_never_lowers_the_category(kind: ContactKind) -> None:
    for broke_skin, bled in product((NO, UNKNOWN), repeat=2):
        known, unknown = suggest(kind, NO, NO), suggest(kind, broke_skin, bled)
        assert known is not None
        assert unknown is not None
        assert unknown >= known


@pytest.mark.parametrize("kind", sorted(set(ContactKind) - KINDS_WITHOUT_CATEGORY))
@pytest.mark.parametrize(("broke_skin", "bled"), [(YES, NO), (NO, YES), (YES, UNKNOWN)])
def test_broken_skin_or_blood_is_category_iii_whatever_the_contact_was_called(
    kind: ContactKind, broke_skin: Answer, bled: Answer
) -> None:
    assert suggest(kind, broke_skin, bled) is Category.III


def test_a_contact_nobody_can_describe_is_taken_as_the_worst() -> None:
    suggestion = suggest_category(contacts=[ContactFact(ContactKind.UNKNOWN)], species="dog")
    assert (suggestion.category, suggestion.reasons) == (Category.III, (CategoryReason.CONTACT_UNKNOWN,))


@pytest.mark.parametrize(
    ("contacts", "species", "reason"),
    [
        ([ContactFact(ContactKind.NONE)], "dog", CategoryReason.NO_CONTACT),
        ([ContactFact(ContactKind.NONE)], "bat", CategoryReason.BAT_NEAR_ASK_CLINICIAN),
        ([ContactFact(ContactKind.NEEDLESTICK, YES, YES)], "dog", CategoryReason.NEEDLESTICK_ASK_CLINICIAN),
        ([], "dog", CategoryReason.NOT_RECORDED),
    ],
)
def test_what_the_table_does_not_rank_gets_a_reason_and_no_category(
    contacts: list[ContactFact], species: str, reason: CategoryReason
) -> None:
    suggestion = suggest_category(contacts=contacts, species=species)
    assert (suggestion.category, suggestion.reasons) == (None, (reason,))


def test_the_worst_of_several_contacts_decides_in_any_order() -> None:
    contacts = [
        ContactFact(ContactKind.TOUCHED, NO, NO),
        ContactFact(ContactKind.SCRATCHED, NO, NO),
        ContactFact(ContactKind.BITTEN, YES, YES),
        ContactFact(ContactKind.NEEDLESTICK),
        ContactFact(ContactKind.NONE),
    ]
    for order in permutations(contacts):
        suggestion = suggest_category(contacts=order, species="dog")
        assert suggestion.category is Category.III
        assert suggestion.reasons == (CategoryReason.NEEDLESTICK_ASK_CLINICIAN, CategoryReason.BLED)
