from __future__ import annotations

import mailbox
import os
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError, InterfaceError
from django.utils import timezone

from safety.rules.notices.delivery_report import MOST_BYTES
from safety.services.notices.bounces import UNDERSTOOD, Taken, bounce_take
from staff import guards

# What sendmail's sysexits.h calls EX_DATAERR and EX_TEMPFAIL: a mail server tries the second again.
NOT_UNDERSTOOD, TRY_AGAIN = os.EX_DATAERR, os.EX_TEMPFAIL
FOLDER = "not-understood"


class Command(BaseCommand):
    # Of a mailbox, what was understood is deleted; the rest stays for somebody to read.
    help = (
        "Take in delivery reports (RFC 3464): one mail from standard input, or those of a mailbox. "
        "Exit code 65: something wasn't understood, and a mailbox keeps it; 75: try again later."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        place = parser.add_mutually_exclusive_group()
        place.add_argument(
            "--maildir", metavar="PATH", help=f"What isn't understood goes to its folder {FOLDER}."
        )
        place.add_argument("--mbox", metavar="PATH", help="What isn't understood stays in it.")

    def handle(
        self, *_args: Any, maildir: str | None = None, mbox: str | None = None, **_options: Any
    ) -> None:
        guards.require()
        counts: Counter[Taken] = Counter()
        try:
            if maildir:
                _take_maildir(maildir, counts)
            elif mbox:
                _take_mbox(mbox, counts)
            else:
                counts[_take(sys.stdin.buffer.read(MOST_BYTES + 1))] += 1
        except (DatabaseError, InterfaceError) as error:
            raise CommandError(
                f"The database did not answer; try again: {error}", returncode=TRY_AGAIN
            ) from None
        except mailbox.NoSuchMailboxError:
            raise CommandError(
                f"There is no mailbox at {maildir or mbox}; check the path.", returncode=os.EX_NOINPUT
            ) from None
        except (mailbox.Error, OSError) as error:
            raise CommandError(f"The mailbox can't be read now: {error}", returncode=TRY_AGAIN) from None
        finally:
            for taken in Taken:
                self.stdout.write(f"{counts[taken]} {taken}")
        if set(+counts) - UNDERSTOOD:
            raise CommandError("Not every mail was understood.", returncode=NOT_UNDERSTOOD)


def _take(content: bytes) -> Taken:
    return bounce_take(content=content, now=timezone.now())


def _read(box: mailbox.Mailbox[Any], key: str) -> bytes:
    with box.get_file(key) as file:
        content: bytes = file.read(MOST_BYTES + 1)
    return content


def _take_maildir(path: str, counts: Counter[Taken]) -> None:
    box = mailbox.Maildir(path, create=False)
    for key in list(box.keys()):
        try:
            taken = _take(_read(box, key))
            if taken not in UNDERSTOOD:
                # Copied before it is removed: a crash between leaves it twice, never nowhere.
                with box.get_file(key) as file:
                    box.add_folder(FOLDER).add(file)
            box.remove(key)
        except (KeyError, FileNotFoundError):
            continue  # Another run took it.
        counts[taken] += 1


@contextmanager
def _locked(path: str) -> Iterator[mailbox.mbox]:
    box = mailbox.mbox(path, create=False)
    box.lock()
    try:
        yield box
    finally:
        box.flush()
        box.unlock()
        box.close()


def _take_mbox(path: str, counts: Counter[Taken]) -> None:
    with _locked(path) as box:
        for key in list(box.keys()):
            taken = _take(_read(box, key))
            counts[taken] += 1
            if taken in UNDERSTOOD:
                box.remove(key)
