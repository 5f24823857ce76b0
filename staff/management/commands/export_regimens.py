"""`manage.py export_regimens [FILE]`: the regimen table as one JSON file (fixtures/regimens.schema.json)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from staff.selectors.regimen.regimens import regimens_to_export
from staff.services.regimen.regimen_file import regimens_text


class Command(BaseCommand):
    help = "Write every listed version of the regimen table as JSON, to a file or to standard output."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, nargs="?", help="without it: standard output")

    def handle(self, *_args: Any, file: Path | None, **_options: Any) -> None:
        text = regimens_text(regimens=list(regimens_to_export()))
        if file is None:
            self.stdout.write(text, ending="")
            return
        try:
            file.write_text(text, encoding="utf-8")
        except OSError as error:
            raise CommandError(f"{file} can't be written: {error.strerror}.") from error
