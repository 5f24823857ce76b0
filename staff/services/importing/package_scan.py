"""Looking through the parts of a workbook before anything builds a tree of them: counted in passing, nothing is kept.

A cell of four letters becomes some 300 bytes of memory in a reader, so 44 KB of a file that means harm became 3.7 GB.
"""

from __future__ import annotations

import zipfile
from xml.parsers import expat

from django.utils.translation import gettext as _

from staff.ground.errors import Invalid

# A list of 20,000 rows and 60 columns is 1,200,000 cells; each may hold a value and the text of one.
MOST_CELLS = 1_300_000
MOST_IN_A_ROW = 60_000
MOST_ELEMENTS = 5_000_000
MOST_SHEETS = 100
# Of what a reader builds a whole tree: styles, relations, names.
MOST_IN_OTHER_PARTS = 20_000
# A spreadsheet program writes at most 32,767 characters into a cell and 255 into a format.
LONGEST_TOKEN = 1_000_000
LONGEST_FORMAT = 255
# A shared formula is written anew for each cell that shares it: its length times those cells.
MOST_FORMULA_WORK = 5_000_000
_CHUNK = 64 * 1024
# Parts a reader goes through in passing; of the others it builds a tree.
_IN_PASSING = ("xl/worksheets/", "xl/sharedStrings")


def parts_check(package: zipfile.ZipFile) -> None:
    """Raises `Invalid` on "file" for a workbook of more than the limits, naming the limit and what to do."""
    total = _Total()
    for part in package.infolist():
        if part.filename.endswith((".xml", ".rels")):
            _Part(part.filename, total).read(package, part)


class _Total:
    def __init__(self) -> None:
        self.elements = self.cells = self.sheets = 0


class _Part:
    """One part, read in pieces."""

    def __init__(self, name: str, total: _Total) -> None:
        self.total = total
        self.in_passing = name.startswith(_IN_PASSING)
        self.elements = self.in_row = 0
        self.formula_open = False
        self.shared_open = False
        self.formula = self.longest_shared = self.sharing = 0

    def read(self, package: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
        parser = expat.ParserCreate()
        parser.StartElementHandler = self.start
        parser.EndElementHandler = self.end
        parser.CharacterDataHandler = self.text
        parser.StartDoctypeDeclHandler = self.doctype
        since_tag = 0  # the parser itself holds back what isn't whole yet, whatever its length
        with package.open(part) as stream:
            while chunk := stream.read(_CHUNK):
                closed = chunk.rfind(b">")
                since_tag = since_tag + len(chunk) if closed < 0 else len(chunk) - closed
                if since_tag > LONGEST_TOKEN:
                    raise odd_part()
                try:
                    parser.Parse(chunk, False)
                except expat.ExpatError as error:
                    raise ValueError(str(error)) from error

    def doctype(self, *_args: object) -> None:
        """Entities can make a small file unpack without end; spreadsheet programs never write them."""
        raise odd_part()

    def start(self, name: str, attributes: dict[str, str]) -> None:
        name = name.rpartition(":")[2]
        self._count(name)
        if name == "numFmt" and len(attributes.get("formatCode", "")) > LONGEST_FORMAT:
            raise odd_part()
        if name == "f":
            self.formula_open, self.formula = True, 0
            self.shared_open = attributes.get("t") == "shared"

    def _count(self, name: str) -> None:
        total = self.total
        self.elements += 1
        total.elements += 1
        self.in_row = 0 if name in ("row", "si") else self.in_row + 1
        total.cells += name == "c" and self.in_passing
        total.sheets += name == "sheet"
        if total.cells > MOST_CELLS:
            raise _refuse(
                _("The workbook holds more than %(n)d cells; copy the list alone into a new one.")
                % {"n": MOST_CELLS}
            )
        if total.sheets > MOST_SHEETS:
            raise _refuse(
                _("The workbook holds more than %(n)d sheets; copy the list alone into a new one.")
                % {"n": MOST_SHEETS}
            )
        if total.elements > MOST_ELEMENTS or (
            self.in_row > MOST_IN_A_ROW if self.in_passing else self.elements > MOST_IN_OTHER_PARTS
        ):
            raise _refuse(
                _(
                    "The workbook holds too much beside its list (formats, names, drawings); copy the list "
                    "alone into a new one, as values."
                )
            )

    def text(self, data: str) -> None:
        if self.formula_open:
            self.formula += len(data)

    def end(self, name: str) -> None:
        if name.rpartition(":")[2] != "f":
            return
        self.formula_open = False
        if not self.shared_open:
            return
        self.sharing += 1
        self.longest_shared = max(self.longest_shared, self.formula)
        if self.sharing * self.longest_shared > MOST_FORMULA_WORK:
            raise _refuse(
                _(
                    "The workbook holds too many formulas; copy the list and paste it into a new one as values."
                )
            )


def odd_part() -> Invalid:
    return _refuse(_("The workbook holds a part no spreadsheet program writes."))


def _refuse(words: str) -> Invalid:
    return Invalid({"file": words})
