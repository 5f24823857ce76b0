"""The regimen table as a file: checked against its schema and the rules, every fault named by row and field."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from staff.ground.errors import Invalid
from staff.ground.limits import shortened
from staff.ground.purposes import PURPOSES
from staff.ground.transactions import retried
from staff.models import Regimen, User
from staff.rules.regimen.regimen_check import regimen_faults
from staff.rules.regimen.regimen_file import write_regimens
from staff.rules.regimen.values import Step
from staff.services.audit import audit_write
from staff.services.regimen.regimen_drafts import RegimenFacts, regimen_draft
from staff.services.regimen.regimen_moves import need_officer
from staff.services.regimen.regimen_words import fault_words, schema_words

SCHEMA = Path(__file__).resolve().parents[3] / "fixtures" / "regimens.schema.json"
MAX_BYTES = 1_000_000
# More than anybody mends in one go.
FAULTS_SHOWN = 50


@dataclass(frozen=True)
class FileRow:
    """One row of a file that keeps the format."""

    code: str
    version: int
    facts: RegimenFacts


@dataclass(frozen=True)
class Imported:
    """What an import did: the new drafts, and how many rows stood in the table as they are."""

    drafts: tuple[Regimen, ...]
    unchanged: int


@cache
def regimen_schema() -> dict[str, Any]:
    """The schema of the file, with the purposes that have a row."""
    schema: dict[str, Any] = json.loads(SCHEMA.read_text(encoding="utf-8"))
    schema["$defs"]["regimen"]["properties"]["purpose"] = {"enum": [purpose.value for purpose in PURPOSES]}
    return schema


@cache
def _validator() -> Draft202012Validator:
    return Draft202012Validator(regimen_schema())


def file_read(*, content: bytes) -> list[FileRow]:
    """The rows of a file. Raises Invalid, its message one line a fault that names row, step and field."""
    data = _parsed(content)
    faults = [_schema_fault(data, error) for error in _sorted(_validator().iter_errors(data))]
    if not faults:
        rows = [_row(row) for row in data]
        faults = [*_rule_faults(rows), *_doubles(rows)]
    if faults:
        raise _refused(faults)
    return rows


def _parsed(content: bytes) -> Any:
    if len(content) > MAX_BYTES:
        raise _refused([_("The file is larger than 1 MB; a regimen table is far smaller.")])
    try:
        return json.loads(content.decode("utf-8-sig"), object_pairs_hook=_once_each)
    except UnicodeDecodeError:
        raise _refused([_("The file isn't UTF-8 text; save it as JSON in UTF-8.")]) from None
    except json.JSONDecodeError as error:
        words = _("Line %(line)d, character %(column)d: this is no JSON (a comma or a quote may be missing).")
        raise _refused([words % {"line": error.lineno, "column": error.colno}]) from None
    except _Twice as twice:
        raise _refused(
            [_("The field “%(field)s” stands twice in one row or step.") % {"field": twice}]
        ) from None
    except (RecursionError, ValueError):
        raise _refused([_("The file is nested too deeply or holds a number that is too long.")]) from None


class _Twice(Exception):
    """A key that stands twice: JSON would quietly take the second."""


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise _Twice(shortened(key, 60))
        found[key] = value
    return found


def _sorted(errors: Iterator[ValidationError]) -> list[ValidationError]:
    return sorted(errors, key=lambda error: [str(part).zfill(6) for part in error.absolute_path])


def _schema_fault(data: Any, error: ValidationError) -> str:
    path, wanted = list(error.absolute_path), error.validator_value
    if error.validator == "additionalProperties":
        wanted = sorted(set(error.instance) - set(error.schema["properties"]))
    words = schema_words(error.validator, wanted, error.instance)
    if not path or not isinstance(path[0], int):
        return _("The file: %(words)s") % {"words": words}
    row = data[path[0]]
    code = row.get("code") if isinstance(row, dict) else None
    place = [_row_words(path[0] + 1, code)]
    if len(path) > 2 and path[1] == "steps":
        place.append(_("step %(number)d") % {"number": int(path[2]) + 1})
    if isinstance(path[-1], str):
        place.append(_("field “%(field)s”") % {"field": path[-1]})
    elif len(path) > 1 and path[1] != "steps":
        place.append(_("field “%(field)s”") % {"field": path[1]})
    return f"{', '.join(place)}: {words}"


def _row_words(number: int, code: object) -> str:
    if isinstance(code, str) and code:
        return _("Row %(number)d (%(code)s)") % {"number": number, "code": shortened(code, 60)}
    return _("Row %(number)d") % {"number": number}


def _row(row: dict[str, Any]) -> FileRow:
    steps = tuple(_step(step) for step in row["steps"])
    kept = {key: row[key] for key in ("name", "purpose", "for_whom", "source", "source_kind")}
    facts = RegimenFacts(**kept, routes=tuple(row["routes"]), steps=steps)
    return FileRow(code=row["code"], version=int(row["version"]), facts=facts)


def _step(step: dict[str, Any]) -> Step:
    # JSON Schema takes 7.0 for an integer; the rules want 7.
    return Step(
        number=int(step["number"]),
        day=int(step["day"]),
        latest_day=int(step["latest_day"]),
        smallest_gap=int(step["smallest_gap"]),
        injections=int(step["injections"]),
        later=step["later"],
    )


def _rule_faults(rows: Sequence[FileRow]) -> list[str]:
    return [
        f"{_row_words(number, row.code)}: {fault_words(fault)}"
        for number, row in enumerate(rows, start=1)
        for fault in regimen_faults(routes=row.facts.routes, steps=row.facts.steps)
    ]


def _doubles(rows: Sequence[FileRow]) -> list[str]:
    first: dict[tuple[str, int], int] = {}
    faults = []
    for number, row in enumerate(rows, start=1):
        before = first.setdefault((row.code, row.version), number)
        if before != number:
            words = _("field “version”: the same code and version stand in row %(row)d.") % {"row": before}
            faults.append(f"{_row_words(number, row.code)}, {words}")
    return faults


def _refused(faults: Sequence[str]) -> Invalid:
    told = list(faults[:FAULTS_SHOWN])
    if len(faults) > FAULTS_SHOWN:
        told.append(_("… and %(number)d more.") % {"number": len(faults) - FAULTS_SHOWN})
    return Invalid({"file": "\n".join(told)})


@retried
def regimens_import(*, actor: User, content: bytes, now: datetime) -> Imported:
    """Bring a file in as drafts, all of it or nothing.

    A row that stands in the table just so is left alone; one that differs is refused: a change is a new version.
    """
    need_officer(actor)
    rows = file_read(content=content)
    drafts, faults = [], []
    with transaction.atomic():
        for number, row in enumerate(rows, start=1):
            standing = Regimen.objects.filter(code=row.code, version=row.version).first()
            if standing is None:
                drafts.append(
                    regimen_draft(
                        actor=actor,
                        code=row.code,
                        version=row.version,
                        facts=row.facts,
                        now=now,
                        why=_("imported from a file"),
                    )
                )
            elif not _same(RegimenFacts.of(standing), row.facts):
                words = _(
                    "field “version”: version %(version)d stands and differs; a change is a new version."
                )
                faults.append(f"{_row_words(number, row.code)}, {words % {'version': row.version}}")
        if faults:
            raise _refused(faults)
        audit_write(actor=actor, action="regimens.imported", now=now, drafts=len(drafts), rows=len(rows))
    return Imported(tuple(drafts), len(rows) - len(drafts))


def _same(one: RegimenFacts, other: RegimenFacts) -> bool:
    return vars(one) | {"routes": set(one.routes)} == vars(other) | {"routes": set(other.routes)}


def regimens_text(*, regimens: Sequence[Regimen]) -> str:
    """The file that holds `regimens`, in their order."""
    return write_regimens([_told(regimen) for regimen in regimens])


def _told(regimen: Regimen) -> dict[str, object]:
    facts = RegimenFacts.of(regimen)
    told = vars(facts) | {"routes": list(facts.routes), "steps": [asdict(step) for step in facts.steps]}
    return {"code": regimen.code, "version": regimen.version} | told
