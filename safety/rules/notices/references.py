"""The letter before a number that names something in a mail without saying what it is.

One letter has one meaning. Cases go by six letters and figures of their own (safety.services.case.references).
"""

from enum import StrEnum, unique


@unique
class Letter(StrEnum):
    ACCOUNT = "A"
    CLINIC = "L"
    DEPARTURE = "D"
    GATHERED = "G"
    HELD = "W"
    MEMBER = "M"
    OUTING = "F"
    ROSTER = "R"
    SESSION = "V"
    SITE = "S"


def reference(letter: Letter, number: int | str) -> str:
    return f"{letter}{number}"
