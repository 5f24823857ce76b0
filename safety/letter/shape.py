"""What a letter is made of; page and PDF lay out the same parts."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Row:
    label: str
    text: str


@dataclass(frozen=True)
class Section:
    """A title, facts with their labels, and sentences below them."""

    title: str
    rows: tuple[Row, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class DoseLine:
    """One dose of the record, in words; `counts` holds why not when it doesn't."""

    day: str
    purpose: str
    product: str
    counts: str


@dataclass(frozen=True)
class Letter:
    """All texts in `language`. `further` sums up the doses that are left out."""

    language: str
    reference: str
    title: str
    heading: tuple[str, ...]
    caution: str
    sections: tuple[Section, ...]
    record: Section
    dose_titles: tuple[str, str, str, str]
    doses: tuple[DoseLine, ...]
    further: str
    listed: Section
    strip_title: str
    strip_note: str
    strip_fields: tuple[str, ...]


@dataclass(frozen=True)
class Limits:
    """How much of what can grow without end is written out; the rest is summed up. None: all of it."""

    doses: int | None = None
    wounds: int | None = None
    narrative: int | None = None
    regimens: int | None = None


@dataclass(frozen=True)
class Fit:
    """One try at a page: the size of the type in points and what is left out."""

    points: float
    limits: Limits = field(default_factory=Limits)


# Tried in turn until the page holds everything; never smaller than 8 points, which can still be read on paper
# (common practice, no source).
FITS = (
    Fit(11.0),
    Fit(10.5),
    Fit(10.0),
    Fit(9.5),
    Fit(9.0),
    Fit(8.5),
    Fit(8.0),
    Fit(8.0, Limits(doses=10, wounds=6, narrative=900, regimens=6)),
    Fit(8.0, Limits(doses=6, wounds=4, narrative=450, regimens=5)),
    Fit(8.0, Limits(doses=4, wounds=3, narrative=200, regimens=4)),
    Fit(8.0, Limits(doses=2, wounds=2, narrative=80, regimens=3)),
)
