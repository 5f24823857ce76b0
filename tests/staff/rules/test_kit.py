"""What a crew carries, held to worked examples and to what must hold for any number of dogs."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from staff.rules.outing.kit import (
    Item,
    KitRules,
    Line,
    Load,
    Unit,
    add_up,
    crew_load,
    kit_for,
    webbing_metres,
)

# The shipped figures of a site: 10 % to spare, five injections a syringe, water for two wounds.
RULES = KitRules(spare_percent=10, syringe_uses=5, washes_carried=2, wash_minutes=15, wash_flow_ml=1000)
ALWAYS = {
    Item.SHARPS_BOX: 1,
    Item.FORCEPS: 2,
    Item.WATER: 30,
    Item.SOAP: 1,
    Item.ANTISEPTIC: 1,
    Item.FIRST_AID: 1,
}
COUNTS = st.integers(0, 5000)
LOADS = st.builds(Load, adults=COUNTS, puppies=COUNTS, riders=st.integers(0, 50))
FIGURES = st.builds(
    KitRules,
    spare_percent=st.integers(0, 100),
    syringe_uses=st.integers(1, 5),
    washes_carried=st.integers(1, 10),
    wash_minutes=st.integers(10, 30),
    wash_flow_ml=st.integers(500, 10_000),
)


def counts(load: Load, rules: KitRules = RULES) -> dict[Item, int]:
    return {line.item: line.count for line in kit_for(load, rules)}


def needs(load: Load, rules: KitRules = RULES) -> dict[Item, int]:
    return {line.item: line.need for line in kit_for(load, rules)}


def test_100_injections_need_100_needles_and_20_syringes() -> None:
    """A new needle for every injection, five injections a syringe: worked example of field training, no source."""
    found = needs(Load(adults=80, puppies=20, riders=0))
    assert (found[Item.NEEDLES], found[Item.SYRINGES]) == (100, 20)


def test_110_doses_are_carried_for_100_dogs_and_needles_and_syringes_for_all_of_them() -> None:
    """Canine Rabies Blueprint 5.2.1 and 5.4.12: 110 doses per 100 dogs."""
    found = counts(Load(adults=100, puppies=0, riders=0))
    assert (found[Item.VACCINE], found[Item.NEEDLES], found[Item.SYRINGES]) == (110, 110, 22)
    assert found[Item.COLLARS] == 110


def test_two_washes_of_15_minutes_at_a_litre_a_minute_are_30_litres() -> None:
    """Soap and running water for 15 minutes, WHO 2018; the rest is arithmetic."""
    assert counts(Load(0, 0, 0))[Item.WATER] == 30


@pytest.mark.parametrize(
    ("washes", "minutes", "flow", "litres"),
    [(1, 15, 1000, 15), (1, 10, 500, 5), (1, 15, 501, 8), (3, 15, 667, 31), (1, 10, 1001, 11)],
)
def test_a_begun_litre_is_carried_whole(washes: int, minutes: int, flow: int, litres: int) -> None:
    rules = replace(RULES, washes_carried=washes, wash_minutes=minutes, wash_flow_ml=flow)
    assert counts(Load(0, 0, 0), rules)[Item.WATER] == litres


def test_without_a_dog_the_crew_still_carries_what_is_for_itself() -> None:
    assert counts(Load(0, 0, 0)) == ALWAYS


def test_for_one_dog_two_of_each_are_carried_and_one_syringe() -> None:
    one = {Item.VACCINE: 2, Item.NEEDLES: 2, Item.SYRINGES: 1, Item.COLLARS: 2}
    assert counts(Load(1, 0, 0)) == ALWAYS | one


def test_puppies_get_a_colour_mark_and_no_collar() -> None:
    """Common practice, no source: a collar would grow tight on a growing neck."""
    found = counts(Load(adults=0, puppies=20, riders=0))
    assert found[Item.PUPPY_MARKS] == 22
    assert Item.COLLARS not in found
    assert found[Item.VACCINE] == 22


@pytest.mark.parametrize(
    ("dogs", "doses", "syringes"), [(9, 10, 2), (10, 11, 3), (11, 13, 3), (90, 99, 20), (91, 101, 21)]
)
def test_a_part_of_a_dose_or_of_a_syringe_is_a_whole_one(dogs: int, doses: int, syringes: int) -> None:
    found = counts(Load(dogs, 0, 0))
    assert (found[Item.VACCINE], found[Item.SYRINGES]) == (doses, syringes)


def test_everybody_who_rides_has_a_helmet() -> None:
    assert counts(Load(0, 0, 3))[Item.HELMETS] == 3


def test_webbing_is_75_cm_a_collar_in_whole_metres() -> None:
    """Common practice, no source: 75 cm a piece."""
    assert [webbing_metres(number) for number in (0, 1, 4, 5, 110)] == [0, 1, 3, 4, 83]


@pytest.mark.parametrize(("crews", "each"), [(1, (100, 21, 3)), (2, (50, 11, 2)), (3, (34, 7, 1))])
def test_the_dogs_are_shared_among_the_crews_and_no_share_is_cut(
    crews: int, each: tuple[int, int, int]
) -> None:
    assert crew_load(Load(100, 21, 3), crews) == Load(*each)


def test_less_than_no_dog_is_an_error() -> None:
    with pytest.raises(ValueError, match="below zero"):
        Load(-1, 0, 0)


def test_only_vaccine_and_water_are_counted_otherwise_than_in_pieces() -> None:
    units = {line.item: line.unit for line in kit_for(Load(1, 1, 1), RULES)}
    assert {item for item, unit in units.items() if unit is not Unit.PIECES} == {Item.VACCINE, Item.WATER}
    assert list(units) == list(Item)


@given(LOADS, FIGURES)
def test_there_is_never_too_little_for_the_work_and_no_line_is_empty(load: Load, rules: KitRules) -> None:
    found, dogs = counts(load, rules), load.adults + load.puppies
    assert all(line.count >= line.need and line.count > 0 for line in kit_for(load, rules))
    assert found.get(Item.NEEDLES, 0) == found.get(Item.VACCINE, 0)
    assert found.get(Item.VACCINE, 0) * 100 >= dogs * (100 + rules.spare_percent)
    assert (found.get(Item.VACCINE, 0) - 1) * 100 < dogs * (100 + rules.spare_percent)
    assert found.get(Item.SYRINGES, 0) * rules.syringe_uses >= found.get(Item.NEEDLES, 0)
    assert found[Item.WATER] * 1000 >= rules.washes_carried * rules.wash_minutes * rules.wash_flow_ml


@given(LOADS, LOADS, FIGURES)
def test_more_dogs_never_ask_for_less(one: Load, more: Load, rules: KitRules) -> None:
    both = Load(one.adults + more.adults, one.puppies + more.puppies, one.riders + more.riders)
    of_both = counts(both, rules)
    assert all(of_both[item] >= number for item, number in counts(one, rules).items())


@given(LOADS, st.integers(1, 12))
def test_the_crews_together_carry_enough_for_all_dogs(load: Load, crews: int) -> None:
    share = crew_load(load, crews)
    assert share.adults * crews >= load.adults
    assert share.puppies * crews >= load.puppies
    assert share.riders * crews >= load.riders
    assert (share.adults - 1) * crews < load.adults or share.adults == 0


@given(st.lists(LOADS, max_size=5))
def test_lists_add_up_item_by_item(loads: list[Load]) -> None:
    kits = [kit_for(load, RULES) for load in loads]
    lines = [line for kit in kits for line in kit]
    found = {line.item: line for line in add_up(kits)}
    assert set(found) == {line.item for line in lines}
    for item, whole in found.items():
        same = [line for line in lines if line.item is item]
        assert whole == Line(item, sum(line.need for line in same), sum(line.count for line in same))
