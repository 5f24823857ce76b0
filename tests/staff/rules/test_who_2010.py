"""Against WHO, Rabies vaccines: position paper, Weekly Epidemiological Record 2010;85(32):309-320.

The regimen of two injections into the skin on four days is from memory; its total of 0.8 mL (8 x 0.1 mL) agrees.
"""

from decimal import Decimal

from staff.rules.regimen.values import Route
from tests.staff.rules.samples import as_table, regimen


def test_the_older_five_doses_are_on_days_0_3_7_14_and_28() -> None:
    assert as_table("pep-im-0-3-7-14-28") == [(day, day, 1) for day in (0, 3, 7, 14, 28)]


def test_two_injections_into_the_skin_are_on_days_0_3_7_and_28() -> None:
    assert as_table("pep-id-0x2-3x2-7x2-28x2") == [(day, day, 2) for day in (0, 3, 7, 28)]
    assert regimen("pep-id-0x2-3x2-7x2-28x2").routes == {Route.ID}


def test_the_injections_into_the_skin_add_up_to_eight_tenths_of_a_millilitre() -> None:
    injections = sum(step.injections for step in regimen("pep-id-0x2-3x2-7x2-28x2").steps)
    assert injections * Decimal("0.1") == Decimal("0.8")  # 0.1 mL an injection
