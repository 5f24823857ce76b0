"""The table of what is told: a row a kind. The files of `notices/` put the rows in; whoever needs one asks here.

It stands below them, so that readers, engine and pages know no kind. A row that lacks a part fails at start.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime
from enum import StrEnum
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from django.core.exceptions import ImproperlyConfigured
from django.db.models import QuerySet
from django.utils.functional import Promise

from safety.rules.notices.forecast import Foreseen

if TYPE_CHECKING:
    # Only its name: this file is read before the models are.
    from safety.models import Course, Incident, Notice

S = TypeVar("S")
UNSAID: Any = object()
EMAILS = Path(__file__).parent / "templates" / "safety" / "emails"
MAIL_FILES = ("subject.txt", "body.txt", "body.html")
# What is compared (named, as stored, as it should be), for the command that checks a live database.
Differing = tuple[str, str, str]
# A case, the course if it is about a dose, and the notice to come (safety.rules.notices.forecast).
Coming = tuple["Incident", "Course | None", Foreseen]


class UnknownKind(LookupError):
    """A row of the outbox names a kind this release doesn't know: it is shown and never sent as another mail."""


class Counted(StrEnum):
    """How figures for a monitoring system count a kind."""

    ALONE = "alone"
    # That there is one clinician's letter in a small team would say something about somebody in it.
    WITH_RECORDS = "record"


def need_parts(what: str, row: Any) -> None:
    """Raises ImproperlyConfigured with a sentence that names the row and what it lacks."""
    said = {field.name: getattr(row, field.name) for field in fields(row)}
    # Words aren't compared: that would translate them before anybody reads them.
    lacking = [name for name, part in said.items() if part is UNSAID or (isinstance(part, str) and not part)]
    if lacking:
        raise ImproperlyConfigured(f"The {what} “{row.name}” lacks {', '.join(lacking)}.")


def nothing_differs() -> Iterable[Differing]:
    return ()


@dataclass(frozen=True, kw_only=True)
class Origin(Generic[S]):
    """Where the notices of one or more kinds come from.

    `subjects`: what may want notices at an instant. `subject_of`: what one notice is about; None when that is gone.
    `wanted`: by key the notices a subject should have; one that waits is still true while its key is among them.
    `standing`: rows that are withdrawn once they aren't wanted and moved to the hour and zone of now; None for what
    is only asked again when it is sent. `differences`: what a check of a live database finds in its rows. `foreseen`:
    for what follows a site's plan, what the days from an instant on bring under a plan (site, now, plan, days).
    """

    name: str
    subjects: Callable[[datetime], Iterable[S]] = UNSAID
    subject_of: Callable[[Notice], S | None] = UNSAID
    wanted: Callable[[S, datetime], Mapping[str, Notice]] = UNSAID
    standing: Callable[[S, datetime], QuerySet[Notice]] | None = UNSAID
    differences: Callable[[], Iterable[Differing]] = nothing_differs
    foreseen: Callable[..., Iterable[Coming]] | None = None

    def __post_init__(self) -> None:
        need_parts("origin of notices", self)


@dataclass(frozen=True, kw_only=True)
class NoticeKind:
    """One kind of notice.

    `asks`: whether its mail asks for a word that it was seen, given as the question whether its matter stands.
    `may_share`: with others to one address at one hour it goes in one mail. `context`: what its templates read beside
    the notice and the link.
    """

    name: str
    word: Promise = UNSAID
    template: str = UNSAID
    origin: Origin[Any] = UNSAID
    asks: Callable[[Notice], bool] | None = UNSAID
    may_share: bool = UNSAID
    counted_as: Counted = UNSAID
    context: Callable[[Notice, date], dict[str, Any]] | None = None

    def __post_init__(self) -> None:
        need_parts("notice kind", self)
        if not isinstance(self.word, Promise):
            raise ImproperlyConfigured(f"The word of the notice kind “{self.name}” can't be translated.")
        missing = [name for name in MAIL_FILES if not (EMAILS / self.template / name).is_file()]
        if missing:
            where = EMAILS / self.template
            raise ImproperlyConfigured(
                f"The notice kind “{self.name}” has no {', '.join(missing)} in {where}."
            )


_ROWS: dict[str, NoticeKind] = {}


def fill(package: str) -> None:
    """Read the rows, `KINDS`, of every file below `package`. Called once, when the program starts."""
    for found in pkgutil.walk_packages(import_module(package).__path__, f"{package}."):
        for row in getattr(import_module(found.name), "KINDS", ()):
            if row.name in _ROWS:
                raise ImproperlyConfigured(f"The notice kind “{row.name}” stands twice; {found.name} is one.")
            _ROWS[row.name] = row


def kinds() -> tuple[NoticeKind, ...]:
    return tuple(_ROWS.values())


def origins() -> tuple[Origin[Any], ...]:
    """Each once, in the order of the files."""
    return tuple({row.origin.name: row.origin for row in _ROWS.values()}.values())


def find_kind(name: str) -> NoticeKind | None:
    return _ROWS.get(name)


def kind_of(notice: Notice) -> NoticeKind:
    """Raises UnknownKind."""
    row = _ROWS.get(notice.kind)
    if row is None:
        raise UnknownKind(f"Notice {notice.pk} is of a kind nobody knows here, “{notice.kind}”.")
    return row


def asks(name: str) -> bool:
    """Whether a notice of this kind carries the link by which its reader says that it was seen."""
    row = _ROWS.get(name)
    return row is not None and row.asks is not None


def sharing() -> list[str]:
    """The names of kinds that may share a mail."""
    return [row.name for row in _ROWS.values() if row.may_share]


def names_of(origin: Origin[Any]) -> list[str]:
    """The names of the kinds that come from `origin`."""
    return [row.name for row in _ROWS.values() if row.origin is origin]
