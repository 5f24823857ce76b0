"""Why somebody is not clear on a date: a code, and the facts that a sentence about it needs."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

Value = date | int | str


class ReasonCode(StrEnum):
    """The codes, with the parameters each one carries.

    no-doses, series-incomplete, too-few-doses: valid (doses that count), recorded (entries dated so far),
    required (doses the site asks for) and, when a series is under way or can be begun, regimen, number (of the
    next dose), earliest_on, due_on, latest_on. settling: complete_on, clear_from. titre-low: taken_on, iu_per_ml
    (as text). recheck-due: lapsed_on (first day not covered). briefing-missing: nothing. briefing-lapsed:
    held_on, lapsed_on. held: starts_on, reason, and ends_on unless open. not-active: active_from and
    active_until where known. no-approved-regimen: required. letter-needed: lapsed_on (first day after the last
    letter's) and waiting (how many letters cover the date that nobody has checked yet), where there are any.
    """

    NO_DOSES = "no-doses"
    SERIES_INCOMPLETE = "series-incomplete"
    TOO_FEW_DOSES = "too-few-doses"
    SETTLING = "settling"
    TITRE_LOW = "titre-low"
    RECHECK_DUE = "recheck-due"
    BRIEFING_MISSING = "briefing-missing"
    BRIEFING_LAPSED = "briefing-lapsed"
    HELD = "held"
    NOT_ACTIVE = "not-active"
    NO_APPROVED_REGIMEN = "no-approved-regimen"
    LETTER_NEEDED = "letter-needed"


class Params(Mapping[str, Value]):
    """A mapping that cannot change and can be hashed, so that reasons can be compared and put in sets."""

    def __init__(self, **values: Value | None) -> None:
        self._values = {name: value for name, value in values.items() if value is not None}

    def __getitem__(self, name: str) -> Value:
        return self._values[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __hash__(self) -> int:
        return hash(frozenset(self._values.items()))

    def __repr__(self) -> str:
        return f"Params({', '.join(f'{name}={value!r}' for name, value in self._values.items())})"


@dataclass(frozen=True)
class Reason:
    code: ReasonCode
    params: Params = field(default_factory=Params)
