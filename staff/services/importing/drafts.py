"""A file between upload and confirmation."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.models import DateFormatChoice, Evidence, ImportDraft, Site, User
from staff.rules.importing.cells import pack, unpack
from staff.rules.importing.columns import Field, guess_mapping
from staff.rules.importing.dates import DateFormat
from staff.selectors.access import OFFICER, has_role
from staff.services.audit import audit_write
from staff.services.importing.apply import Import, import_apply
from staff.services.importing.check import import_check
from staff.services.importing.files import sheet_read
from staff.services.importing.plan import Choices, ImportPlan, Steps, mapping_from, run

# A list nobody confirmed holds health data to no purpose: the next upload at the site removes it.
KEPT_DAYS = 7


def draft_create(*, actor: User, site: Site, file_name: str, content: bytes, now: datetime) -> ImportDraft:
    """Keep an uploaded list for preview; raises `Invalid` on "file" when it can't be read."""
    _need_officer(actor, site)
    sheet = sheet_read(content=content)
    with transaction.atomic():
        ImportDraft.objects.filter(
            site=site, applied_at__isnull=True, uploaded_at__lt=now - timedelta(days=KEPT_DAYS)
        ).delete()
        draft = ImportDraft.objects.create(
            site=site,
            file_name=file_name[-120:],
            sheet=pack(sheet),
            mapping={str(column): field for column, field in guess_mapping(sheet.headers).items()},
            uploaded_by=actor,
            uploaded_at=now,
        )
        audit_write(
            actor=actor,
            action="import.uploaded",
            now=now,
            site=site,
            target=f"import:{draft.key}",
            file=draft.file_name,
            rows=len(sheet.body),
        )
    return draft


def draft_choose(
    *, actor: User, draft: ImportDraft, mapping: Mapping[int, Field], date_format: str, evidence: str
) -> None:
    """Set what the columns mean, how written dates are meant and what they rest on."""
    _need_officer(actor, draft.site)
    if date_format not in DateFormatChoice.values:
        raise Invalid({"date_format": _("Choose how the dates are written.")})
    if evidence and evidence not in Evidence.values:
        raise Invalid({"evidence": _("Choose what the dates rest on.")})
    changed = ImportDraft.objects.filter(pk=draft.pk, applied_at__isnull=True).update(
        mapping={str(column): field for column, field in mapping.items()},
        date_format=date_format,
        evidence=evidence,
    )
    if changed != 1:
        raise _done()
    draft.refresh_from_db()


def choices_of(draft: ImportDraft) -> Choices:
    return Choices(mapping_from(draft.mapping), DateFormat(draft.date_format), draft.evidence)


def draft_check(*, actor: User, draft: ImportDraft, now: datetime) -> ImportPlan:
    """What the draft would do now, confirmed by `actor`."""
    if draft.applied_at is not None:
        raise _done()
    sheet, choices = unpack(draft.sheet), choices_of(draft)
    return run(import_check(actor=actor, site=draft.site, sheet=sheet, choices=choices, now=now))


def draft_apply(*, actor: User, key: uuid.UUID, seen: str, now: datetime) -> Steps[dict[str, int]]:
    """Apply a draft once: as `import_apply`, in the transaction that marks it applied and empties it."""
    with transaction.atomic():
        draft = ImportDraft.objects.select_for_update().filter(pk=key, applied_at__isnull=True).first()
        if draft is None:
            raise _done()
        what = Import(actor, draft.site, unpack(draft.sheet), choices_of(draft), draft.file_name)
        counts = yield from import_apply(what=what, now=now, seen=seen)
        draft.sheet, draft.result, draft.applied_at = {}, counts, now
        draft.save(update_fields=["sheet", "result", "applied_at"])
    return counts


def draft_discard(*, actor: User, draft: ImportDraft) -> None:
    """Remove a list that isn't applied."""
    _need_officer(actor, draft.site)
    removed, _each = ImportDraft.objects.filter(pk=draft.pk, applied_at__isnull=True).delete()
    if not removed:
        raise _done()


def _done() -> Conflict:
    return Conflict(_("This list is imported or discarded already."), code="import-done")


def _need_officer(actor: User, site: Site) -> None:
    if not has_role(actor, site, OFFICER):
        raise NotAllowed(_("Only the safety officer of the site imports its staff list."))
