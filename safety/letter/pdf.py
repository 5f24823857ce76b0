"""The letter as one A4 page of PDF, black on white, with the answer strip at its foot."""

from __future__ import annotations

import re
import sys
from bisect import bisect_left
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _
from django.utils.translation import override

from safety.letter.fonts import BOLD, REGULAR, font_file, lacks_letters
from safety.letter.shape import FITS, DoseLine, Fit, Letter, Limits, Section
from staff.ground.lazily import at_first_use

if TYPE_CHECKING:
    import fpdf
else:
    fpdf = sys.modules.get("fpdf") or at_first_use("fpdf")

# Millimetres on A4.
PAGE_WIDTH, PAGE_HEIGHT, MARGIN = 210.0, 297.0, 12.0
WIDTH = PAGE_WIDTH - 2 * MARGIN
LABEL_WIDTH = 36.0
STRIP_HEIGHT, STRIP_ROW = 53.0, 10.0
STRIP_TOP = PAGE_HEIGHT - MARGIN - STRIP_HEIGHT
BODY_END = STRIP_TOP - 2
DOSE_WIDTHS = (40.0, 42.0, 50.0, WIDTH - 132.0)
# A line of type takes so many millimetres a point: 0.3528 mm, and a quarter more between lines.
LINE = 0.3528 * 1.25


class LetterTooLong(Exception):
    """Even the shortest form of the letter doesn't fit one page, which its limits are there to prevent."""


# Letters that are set one after the other; all others are shaped, which takes several times as long.
_PLAIN = re.compile(r"[\u0000-\u02ff\u0370-\u052f\u2010-\u2027\s]*")


def letter_pdf(letter_of: Callable[[Limits], Letter], *, now: datetime) -> bytes:
    """The largest type at which everything fits one page; what has no room even at 8 points is summed up.

    Raises LetterTooLong when even the shortest form doesn't fit.
    """
    pages: dict[Fit, _Page] = {}

    def fits(fit: Fit) -> bool:
        pages[fit] = _Page(letter_of(fit.limits), fit.points, now)
        return pages[fit].body()

    # Most letters fit at once; for the others each fit takes less room than the one before it.
    found = 0 if fits(FITS[0]) else bisect_left(FITS, True, lo=1, key=fits)
    if found == len(FITS):
        raise LetterTooLong
    page = pages[FITS[found]]
    page.strip()
    return bytes(page.pdf.output() or b"")


class _Page:
    def __init__(self, letter: Letter, points: float, now: datetime) -> None:
        self.letter, self.points = letter, points
        self.pdf = pdf = fpdf.FPDF(format="A4", unit="mm")
        pdf.set_auto_page_break(False)
        pdf.set_margins(MARGIN, MARGIN, MARGIN)
        pdf.add_font("letter", "", font_file(REGULAR))
        pdf.add_font("letter", "B", font_file(BOLD))
        pdf.set_text_shaping(_PLAIN.fullmatch(_texts(letter)) is None)
        # The reference alone: what a file says of itself is read by whoever handles it.
        pdf.set_title(letter.reference)
        pdf.set_lang(letter.language)
        pdf.set_creation_date(now)
        pdf.add_page()

    def body(self) -> bool:
        """Write everything above the strip; whether it had room there."""
        letter = self.letter
        self._font(self.points + 4, bold=True)
        self._text(f"{letter.title} · {letter.reference}")
        self._font(self.points)
        for line in letter.heading:
            self._text(line)
        self._font(self.points, bold=True)
        self._text(letter.caution)
        if lacks_letters(_texts(letter)):
            with override(letter.language):
                self._text(
                    _("Some letters can't be printed in this file: print the letter from the page instead.")
                )
        for section in letter.sections:
            self._section(section)
        self._section(letter.record)
        self._doses()
        self._section(letter.listed)
        return bool(self.pdf.get_y() <= BODY_END)

    def _font(self, points: float, *, bold: bool = False) -> None:
        self.pdf.set_font("letter", "B" if bold else "", points)

    def _line(self) -> float:
        return float(self.pdf.font_size_pt) * LINE

    def _text(self, text: str, *, x: float = MARGIN, width: float = WIDTH) -> None:
        self.pdf.set_x(x)
        self.pdf.multi_cell(
            width, self._line(), text, align="L", new_x=fpdf.XPos.LMARGIN, new_y=fpdf.YPos.NEXT
        )

    def _section(self, section: Section) -> None:
        self._rule()
        self._font(self.points + 1, bold=True)
        self._text(section.title)
        self._font(self.points)
        for note in section.notes:
            self._text(note)
        for row in section.rows:
            self._row([(row.label, LABEL_WIDTH), (row.text, WIDTH - LABEL_WIDTH)], first_bold=True)

    def _rule(self) -> None:
        y = self.pdf.get_y() + 1
        self.pdf.set_line_width(0.2)
        self.pdf.line(MARGIN, y, PAGE_WIDTH - MARGIN, y)
        self.pdf.set_y(y + 0.8)

    def _row(self, cells: list[tuple[str, float]], *, first_bold: bool = False, bold: bool = False) -> None:
        """Cells side by side, as high as the highest of them."""
        if self.pdf.get_y() > BODY_END:
            # The page is lost already: what would follow needn't be laid out.
            return
        top, lowest, x = self.pdf.get_y(), self.pdf.get_y(), MARGIN
        for number, (text, width) in enumerate(cells):
            self._font(self.points, bold=bold or (first_bold and number == 0))
            self.pdf.set_y(top)
            self._text(text, x=x, width=width)
            lowest, x = max(lowest, self.pdf.get_y()), x + width
        self.pdf.set_y(lowest)

    def _doses(self) -> None:
        if self.letter.doses:
            self._row(list(zip(self.letter.dose_titles, DOSE_WIDTHS, strict=True)), bold=True)
        for dose in self.letter.doses:
            self._row(list(zip(_cells(dose), DOSE_WIDTHS, strict=True)))
        if self.letter.further:
            self._font(self.points)
            self._text(self.letter.further)

    def strip(self) -> None:
        """The part to cut off: one line to write on for each field, in the order the liaison types them in."""
        pdf, letter = self.pdf, self.letter
        pdf.set_dash_pattern(dash=2, gap=2)
        pdf.line(MARGIN, STRIP_TOP, PAGE_WIDTH - MARGIN, STRIP_TOP)
        pdf.set_dash_pattern()
        pdf.set_y(STRIP_TOP + 1.5)
        self._font(9, bold=True)
        self._text(f"{letter.strip_title} · {letter.reference}")
        self._font(8)
        self._text(letter.strip_note)
        top, column = pdf.get_y(), WIDTH / 2
        for number, name in enumerate(letter.strip_fields):
            x, y = MARGIN + column * (number % 2), top + STRIP_ROW * (number // 2)
            pdf.set_xy(x, y + 2)
            pdf.cell(column, 4, name)
            line = y + STRIP_ROW - 0.5
            right = PAGE_WIDTH - MARGIN if number == len(letter.strip_fields) - 1 else x + column - 3
            pdf.line(x + 32, line, right, line)


def _cells(dose: DoseLine) -> tuple[str, str, str, str]:
    return dose.day, dose.purpose, dose.product, dose.counts


def _texts(letter: Letter) -> str:
    """Everything in the letter that people wrote, for a look at its letters."""
    parts = (*letter.sections, letter.record, letter.listed)
    rows = [row.text for part in parts for row in part.rows]
    return " ".join([*letter.heading, *rows, *(f"{dose.product} {dose.counts}" for dose in letter.doses)])
