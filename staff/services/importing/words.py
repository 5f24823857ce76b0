"""Findings, fields and progress of an import in sentences: what is wrong and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from staff.models import CrewRole
from staff.rules.importing.cells import column_letter
from staff.rules.importing.columns import NUMBERED_DOSES, Field
from staff.rules.importing.findings import Finding, Note, Problem
from staff.services.importing.plan import Progress

Words = str | Promise

FIELD_WORDS: dict[Field, Words] = {
    Field.NUMBER: gettext_lazy("staff number"),
    Field.NAME: gettext_lazy("name"),
    Field.EMAIL: gettext_lazy("e-mail"),
    Field.PHONE: gettext_lazy("telephone"),
    Field.CREW_ROLES: gettext_lazy("crew roles"),
    Field.ROUTE: gettext_lazy("route (IM or ID)"),
    Field.PURPOSE: gettext_lazy("purpose (pre-exposure or booster)"),
    Field.PRODUCT: gettext_lazy("product"),
    Field.BATCH: gettext_lazy("batch"),
    Field.PLACE: gettext_lazy("where given"),
    Field.DOSE_DATE: gettext_lazy("date of the dose (one row a dose)"),
    Field.BRIEFING: gettext_lazy("date of the safety briefing"),
}


def field_words(name: Field) -> str:
    if name in NUMBERED_DOSES:
        return _("date of dose %(number)d") % {"number": NUMBERED_DOSES.index(name) + 1}
    return str(FIELD_WORDS[name])


_WORDS: dict[Problem | Note, Words] = {
    Problem.NO_NUMBER_COLUMN: gettext_lazy("No column is the staff number; choose it under Columns."),
    Problem.FIELD_TWICE: gettext_lazy("Another column is “%(field)s” already; leave one of them out."),
    Problem.TWO_LAYOUTS: gettext_lazy(
        "Both numbered doses and one date of a dose are chosen; the list has one row a person or one row a dose."
    ),
    Problem.NO_ROWS: gettext_lazy("No rows below the headers."),
    Problem.NUMBER_MISSING: gettext_lazy("No staff number; each row needs one."),
    Problem.NUMBER_TWICE: gettext_lazy(
        "Staff number %(number)s stands in row %(first)s too; put a person's doses in one row."
    ),
    Problem.NUMBER_VARIANT: gettext_lazy(
        "%(number)s and %(other)s differ by capitals or leading zeros only; write the number one way."
    ),
    Problem.NAME_MISSING: gettext_lazy("%(number)s isn't on record yet and the row has no name; add it."),
    Problem.DIFFERS_FROM_ROW: gettext_lazy(
        "“%(text)s” here, “%(kept)s” for the same staff number from row %(first)s on; write it one way."
    ),
    Problem.CELL_FORMULA: gettext_lazy(
        "A formula whose result the file doesn't hold; open and save it in the spreadsheet program, or type the value."
    ),
    Problem.CELL_ERROR: gettext_lazy("The spreadsheet shows an error here; mend it or type the value."),
    Problem.CELL_CONTROL: gettext_lazy("Signs that can't be shown are in this cell; type it again."),
    Problem.CELL_ACTIVE: gettext_lazy(
        "Starts with a sign that spreadsheet programs take for a formula; type the plain value."
    ),
    Problem.TOO_LONG: gettext_lazy("%(length)s signs; at most %(longest)s are kept. Shorten it."),
    Problem.EMAIL: gettext_lazy("“%(text)s” is no e-mail address; mend it or leave it blank."),
    Problem.ROUTE: gettext_lazy("“%(text)s” is no route; write IM or ID, or leave it blank when not known."),
    Problem.PURPOSE: gettext_lazy("“%(text)s” is no purpose; write pre-exposure or booster."),
    Problem.POST_EXPOSURE: gettext_lazy(
        "Doses after an exposure belong to their case; record them there and leave them out of the list."
    ),
    Problem.DATE_SHORT_YEAR: gettext_lazy("“%(text)s” has no year of four digits; write all four."),
    Problem.DATE_IMPOSSIBLE: gettext_lazy(
        "“%(text)s” is no day of the calendar as the dates are meant; check the day, the month and the choice of dates."
    ),
    Problem.DATE_NUMBER: gettext_lazy(
        "“%(text)s” is a bare number; format the column as dates, or write 2026-04-03."
    ),
    Problem.DATE_TEXT: gettext_lazy(
        "“%(text)s” is no date we read; write it as 2026-04-03 or leave it blank."
    ),
    Problem.DATE_FUTURE: gettext_lazy("%(text)s is in the future; only doses already given are recorded."),
    Problem.BRIEFING_FUTURE: gettext_lazy(
        "%(text)s is in the future; leave the cell blank and record the briefing once it is held."
    ),
    Problem.DATE_TOO_OLD: gettext_lazy("%(text)s can't be right; check the year."),
    Problem.DATE_MISSING: gettext_lazy(
        "A dose without its date; add the date or clear the rest of the dose."
    ),
    Problem.DOSE_TWICE: gettext_lazy("The dose of %(day)s stands in row %(first)s already; remove one."),
    Problem.OWN_RECORD: gettext_lazy(
        "This row would clear you, and nobody clears themself; take it out and ask another officer or liaison of the "
        "site to record it."
    ),
    Note.COLUMN_NOT_READ: gettext_lazy("This column isn't read."),
    Note.NO_DOSE_COLUMN: gettext_lazy("No column holds dose dates: people are brought in without doses."),
    Note.NO_BRIEFING_COLUMN: gettext_lazy(
        "This site asks for a safety briefing and no column holds its date: nobody new is clear by this list alone. "
        "Add the column, or record the briefing of several people at once afterwards."
    ),
    Note.MIXED_DATES: gettext_lazy(
        "Some dates here are real ones, others are text. A spreadsheet program may have swapped day and month "
        "in the real ones: compare a few with the certificates."
    ),
    Note.OUT_OF_ORDER: gettext_lazy("Earlier than the dose before it; doses are kept by date."),
    Note.DOSE_SKIPPED: gettext_lazy("Blank, though a later dose is filled in."),
    Note.NAME_DIFFERS: gettext_lazy("The name on record, “%(kept)s”, is kept; the list says “%(text)s”."),
    Note.SAME_NAME: gettext_lazy("“%(text)s” stands under staff number %(other)s too: two people, or one?"),
    Note.DOSE_VOIDED: gettext_lazy("The dose of %(day)s was voided on record and stays voided."),
    Note.DOSE_DIFFERS: gettext_lazy(
        "The dose of %(day)s is on record with other details and is kept; to change it, void it and record it again."
    ),
}


def finding_words(finding: Finding) -> str:
    """One or two sentences for a finding."""
    params = {name: _param(name, value) for name, value in finding.params.items()}
    if finding.code is Problem.DATE_FORMAT_NEEDED:
        return _format_needed(str(finding.params["text"]))
    if finding.code is Problem.CREW_ROLE:
        allowed = ", ".join(str(role.label) for role in CrewRole)
        return _("“%(text)s” is no crew role; use %(allowed)s.") % {**params, "allowed": allowed}
    if finding.code is Note.TOO_EARLY:
        days = int(str(finding.params["days"]))
        return ngettext(
            "The dose of %(day)s came %(days)d day too early to count in an approved regimen; it is kept on record.",
            "The dose of %(day)s came %(days)d days too early to count in an approved regimen; it is kept on record.",
            days,
        ) % {"day": params["day"], "days": days}
    return str(_WORDS[finding.code]) % params


def _param(name: str, value: str | int | date) -> str:
    if isinstance(value, date):
        return date_format(value)
    return field_words(Field(str(value))) if name == "field" else str(value)


def _format_needed(text: str) -> str:
    first, second, year = (
        int(part) for part in text.replace("/", " ").replace(".", " ").replace("-", " ").split()
    )
    readings = []
    for day, month in ((first, second), (second, first)):
        try:
            readings.append(date_format(date(year, month, day)))
        except ValueError:
            continue
    choose = _("Choose under Dates how they are written.")
    if len(set(readings)) == 2:
        meanings = {"text": text, "one": readings[0], "other": readings[1]}
        return _("“%(text)s” may be %(one)s or %(other)s.") % meanings + " " + choose
    return _("“%(text)s” isn't year-month-day.") % {"text": text} + " " + choose


def place_words(finding: Finding, headers: Sequence[str]) -> tuple[str, str]:
    """Row and column of a finding as the reader finds them in the spreadsheet."""
    row = str(finding.row) if finding.row is not None else _("whole list")
    if finding.column is None:
        return row, ""
    header = headers[finding.column] if finding.column < len(headers) else ""
    return row, f"{column_letter(finding.column)} {header}".strip()


def remark_words(code: str, value: str) -> str:
    """A sentence about the file itself."""
    if code == "other-sheets":
        return _("Only the sheet “%(name)s” was read; the workbook has others.") % {"name": value}
    return _("The file isn't UTF-8 and was read as %(name)s: check names with accents.") % {"name": value}


def progress_words(progress: Progress) -> str:
    counts = {"done": progress.done, "total": progress.total}
    if progress.phase == "read":
        return _("%(done)d of %(total)d rows read") % counts
    if progress.phase == "compare":
        return _("%(done)d of %(total)d people compared with the record") % counts
    return _("%(done)d of %(total)d people written") % counts


@dataclass(frozen=True)
class Count:
    figure: int
    words: str


def count_words(counts: dict[str, int]) -> list[Count]:
    """The counts of a plan, each with its words. Lists imported before briefings were read brought none."""
    counts = {"briefings_added": 0, "briefings_unchanged": 0} | counts
    words = {
        "people_added": ngettext("person added", "people added", counts["people_added"]),
        "people_changed": ngettext("person changed", "people changed", counts["people_changed"]),
        "people_unchanged": ngettext("person unchanged", "people unchanged", counts["people_unchanged"]),
        "doses_added": ngettext("dose added", "doses added", counts["doses_added"]),
        "doses_unchanged": ngettext("dose unchanged", "doses unchanged", counts["doses_unchanged"]),
        "briefings_added": ngettext("briefing added", "briefings added", counts["briefings_added"]),
        "briefings_unchanged": ngettext(
            "briefing unchanged", "briefings unchanged", counts["briefings_unchanged"]
        ),
    }
    return [Count(counts[name], text) for name, text in words.items()]
