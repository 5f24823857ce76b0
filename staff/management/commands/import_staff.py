from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from staff.ground.errors import Refused
from staff.models import DateFormatChoice, Evidence, Site, User
from staff.rules.importing.cells import Sheet
from staff.rules.importing.columns import guess_mapping
from staff.rules.importing.dates import DateFormat
from staff.selectors.access import OFFICER, has_role
from staff.services.importing.apply import Import, import_apply
from staff.services.importing.check import import_check
from staff.services.importing.files import refuse_size, sheet_read
from staff.services.importing.plan import Choices, ImportPlan, Progress, run
from staff.services.importing.words import (
    count_words,
    field_words,
    finding_words,
    place_words,
    progress_words,
    remark_words,
)


class Command(BaseCommand):
    help = (
        "Bring people and their doses in from a CSV or XLSX list: all of it or, when anything is wrong, nothing. "
        "Prints what would be or was done and every problem by row and column; exits with 1 when there is one."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--site", required=True, metavar="CODE")
        parser.add_argument("--by", required=True, metavar="USERNAME", help="safety officer of the site")
        parser.add_argument(
            "--date-format",
            choices=DateFormatChoice.values,
            default=DateFormatChoice.ISO,
            help="how dates written with three numbers are meant; without it 03/04/2026 is refused",
        )
        parser.add_argument(
            "--evidence", choices=Evidence.values, help="what the dates rest on; needed unless --check"
        )
        parser.add_argument("--check", action="store_true", help="only report; write nothing")

    def handle(self, *_args: Any, **options: Any) -> None:
        now = timezone.now()
        site = Site.objects.select_related("rules").filter(code=options["site"]).first()
        actor = User.objects.filter(username=options["by"], is_active=True).first()
        if site is None or actor is None:
            missing = f"site {options['site']!r}" if site is None else f"user {options['by']!r}"
            raise CommandError(f"There is no {missing}.")
        if not has_role(actor, site, OFFICER):
            raise CommandError(f"{actor.username} isn't the safety officer of {site.code}.")
        if not options["check"] and options["evidence"] is None:
            raise CommandError(f"Say what the dates rest on: --evidence {'|'.join(Evidence.values)}")
        try:
            sheet = _read(options["file"])
            choices = Choices(
                guess_mapping(sheet.headers), DateFormat(options["date_format"]), options["evidence"] or ""
            )
            steps = import_check(actor=actor, site=site, sheet=sheet, choices=choices, now=now)
            plan = run(steps, self._progress)
            self._report(sheet, choices, plan)
            if plan.problems:
                raise CommandError(f"{len(plan.problems)} problem(s): nothing was written.", returncode=1)
            if options["check"]:
                self.stdout.write("Checked only: nothing was written.")
                return
            what = Import(actor, site, sheet, choices, options["file"].name)
            run(import_apply(what=what, now=now), self._progress)
        except Refused as refused:
            raise CommandError(refused.message) from refused
        self.stdout.write("Done." if plan.changed else "Everything was on record: nothing was written.")

    def _progress(self, progress: Progress) -> None:
        self.stderr.write(progress_words(progress))

    def _report(self, sheet: Sheet, choices: Choices, plan: ImportPlan) -> None:
        for code, value in sheet.remarks:
            self.stdout.write(remark_words(code, value))
        for column, name in choices.mapping.items():
            self.stdout.write(f"column “{sheet.headers[column]}”: {field_words(name)}")
        for finding in plan.findings:
            row, column_words = place_words(finding, sheet.headers)
            kind = "PROBLEM" if finding.stops else "note"
            self.stdout.write(f"{kind} row {row} {column_words}: {finding_words(finding)}")
        if not plan.problems:
            for count in count_words(plan.counts()):
                self.stdout.write(f"{count.figure} {count.words}")


def _read(path: Path) -> Sheet:
    """The sheet of a file; a file that is too large is refused before it is read."""
    try:
        if path.stat().st_size > settings.IMPORT_MAX_BYTES:
            raise refuse_size()
        return sheet_read(content=path.read_bytes())
    except OSError as error:
        raise CommandError(f"{path} can't be read: {error.strerror}.") from error
