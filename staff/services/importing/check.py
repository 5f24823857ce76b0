"""Checking a sheet row by row, then each person against what is on record."""

from __future__ import annotations

from datetime import datetime

from staff.models import CrewRole, Site, User
from staff.rules.importing.cells import Sheet
from staff.rules.importing.columns import Field, check_mapping
from staff.rules.importing.findings import Finding, Note, Problem
from staff.rules.importing.reader import SheetParser
from staff.services.importing.comparison import Comparison
from staff.services.importing.plan import Choices, ImportPlan, Progress, Steps
from staff.services.record.records import EARLIEST_DATE

ROWS_A_STEP = 250


def import_check(
    *, actor: User, site: Site, sheet: Sheet, choices: Choices, now: datetime
) -> Steps[ImportPlan]:
    """Compare `sheet` with the record of `site`; yields progress, returns the plan with every finding.

    A finding that stops leaves the plan as a preview: it is never applied. Constant number of queries.
    """
    plan = ImportPlan(findings=check_mapping(sheet.headers, choices.mapping))
    if not sheet.body:
        plan.findings.append(Finding(Problem.NO_ROWS))
    if plan.problems:
        return plan
    if site.rules.briefing_months is not None and Field.BRIEFING not in choices.mapping.values():
        plan.findings.append(Finding(Note.NO_BRIEFING_COLUMN))
    parser = SheetParser(
        mapping=choices.mapping,
        date_format=choices.date_format,
        crew_roles=_crew_role_words(),
        today=site.local_date(now),
        earliest=EARLIEST_DATE,
    )
    for done, row in enumerate(sheet.body, start=1):
        parser.take(row)
        if done % ROWS_A_STEP == 0 or done == len(sheet.body):
            yield Progress("read", done, len(sheet.body))
    parser.finish()
    plan.findings += parser.findings
    comparison = Comparison(actor, site, choices, site.local_date(now))
    for done, person in enumerate(parser.people.values(), start=1):
        plan.people.append(comparison.of(person))
        if done % ROWS_A_STEP == 0 or done == len(parser.people):
            yield Progress("compare", done, len(parser.people))
    plan.findings += comparison.findings
    plan.findings.sort(
        key=lambda finding: (finding.row or 0, -1 if finding.column is None else finding.column)
    )
    return plan


def _crew_role_words() -> dict[str, str]:
    words = {role.label.casefold(): role.value for role in CrewRole}
    return words | {role.value: role.value for role in CrewRole}
