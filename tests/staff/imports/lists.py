"""Small staff lists for the tests of the import."""

from __future__ import annotations

import io
from datetime import datetime
from pathlib import Path

from openpyxl import Workbook

from staff.models import AuditEntry, Briefing, Clearance, Dose, Person, PersonCrewRole, Site, User
from staff.rules.importing.columns import guess_mapping
from staff.rules.importing.dates import DateFormat
from staff.rules.importing.findings import Finding
from staff.services.importing.apply import Import, import_apply
from staff.services.importing.check import import_check
from staff.services.importing.files import sheet_read
from staff.services.importing.plan import Choices, ImportPlan, run

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
SEEN = "certificate-seen"


def lines(*rows: str) -> bytes:
    return "\n".join(rows).encode()


def workbook(*rows: list[object]) -> bytes:
    book = Workbook()
    for row in rows:
        book.worksheets[0].append(row)
    return saved(book)


def saved(book: Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def choose(content: bytes, date_format: DateFormat = DateFormat.ISO, evidence: str = SEEN) -> Choices:
    return Choices(guess_mapping(sheet_read(content=content).headers), date_format, evidence)


def check(site: Site, now: datetime, content: bytes, date_format: DateFormat = DateFormat.ISO) -> ImportPlan:
    """What the site's officer would be shown."""
    choices, officer = (
        choose(content, date_format),
        User.objects.get(site_roles__site=site, site_roles__role="officer"),
    )
    sheet = sheet_read(content=content)
    return run(import_check(actor=officer, site=site, sheet=sheet, choices=choices, now=now))


def bring_in(
    actor: User,
    site: Site,
    now: datetime,
    content: bytes,
    date_format: DateFormat = DateFormat.ISO,
    evidence: str = SEEN,
) -> dict[str, int]:
    choices = choose(content, date_format, evidence)
    what = Import(actor, site, sheet_read(content=content), choices, "list.csv")
    return run(import_apply(what=what, now=now))


def codes(findings: list[Finding]) -> list[tuple[str, int | None, int | None]]:
    """Code, row and column of each finding."""
    return [(str(finding.code), finding.row, finding.column) for finding in findings]


def everything(*, keys: bool = True) -> dict[str, list[object]]:
    """All rows an import may touch; without `keys`, what they say only, so that two databases can be compared."""
    people = ("number", "name", "email", "phone")
    doses = ("person__number", "given_on", "route", "product", "batch", "place", "purpose", "evidence")
    held: dict[str, list[object]] = {
        "people": list(Person.objects.order_by("number").values_list(*people)),
        "roles": sorted(PersonCrewRole.objects.values_list("person__number", "role")),
        "doses": list(Dose.objects.order_by("person__number", "given_on").values_list(*doses)),
        "briefings": sorted(Briefing.objects.values_list("person__number", "held_on")),
        "clear": list(
            Clearance.objects.order_by("person__number", "starts_on").values_list(
                "person__number", "starts_on", "ends_on", "superseded_on"
            )
        ),
    }
    if keys:
        held["keys"] = [
            sorted(model.objects.values_list("pk", flat=True))
            for model in (Person, Dose, Briefing, Clearance, AuditEntry)
        ]
    return held
