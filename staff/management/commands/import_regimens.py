"""`manage.py import_regimens FILE --by USERNAME`: bring a regimen file in as drafts, all of it or nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from staff.ground.errors import Refused
from staff.models import User
from staff.services.regimen.regimen_file import MAX_BYTES, regimens_import


class Command(BaseCommand):
    help = (
        "Bring a regimen file in as drafts, all of it or nothing; a version that stands is never overwritten. "
        "Prints every fault by row and field and exits with 1 when there is one."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--by", required=True, metavar="USERNAME", help="a safety officer, who can't approve"
        )

    def handle(self, *_args: Any, file: Path, by: str, **_options: Any) -> None:
        actor = User.objects.filter(username=by, is_active=True).first()
        if actor is None:
            raise CommandError(f"There is no user {by!r}.")
        try:
            # One byte more than is taken, so that a huge file is refused without being read.
            with file.open("rb") as opened:
                content = opened.read(MAX_BYTES + 1)
            done = regimens_import(actor=actor, content=content, now=timezone.now())
        except OSError as error:
            raise CommandError(f"{file} can't be read: {error.strerror}.") from error
        except Refused as refused:
            raise CommandError(refused.message, returncode=1) from refused
        for draft in done.drafts:
            self.stdout.write(f"draft {draft.code} v{draft.version}")
        self.stdout.write(f"{len(done.drafts)} new, {done.unchanged} as they stand.")
