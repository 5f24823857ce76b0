"""The regimen table: loading what comes with the program."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from django.db import transaction
from django.utils.translation import gettext as _

from staff.models import Regimen
from staff.rules.regimen.regimen_states import RegimenState
from staff.services.regimen.regimen_drafts import refuse_faults, regimen_draft
from staff.services.regimen.regimen_file import file_read
from staff.services.regimen.regimen_moves import regimen_move


def regimens_load(*, path: Path, now: datetime) -> int:
    """Add the samples of a regimen file that aren't in the table yet, as listed; returns how many.

    Nobody has drafted them and no site has approved them. A version that stands is never changed.
    """
    added = 0
    with transaction.atomic():
        for row in file_read(content=path.read_bytes()):
            if Regimen.objects.filter(code=row.code, version=row.version).exists():
                continue
            refuse_faults(row.facts)
            regimen = regimen_draft(
                actor=None,
                code=row.code,
                version=row.version,
                facts=row.facts,
                now=now,
                why=_("came with the program"),
            )
            regimen_move(
                actor=None,
                regimen=regimen,
                to=RegimenState.LISTED,
                now=now,
                why=_("a sample: any site may have it approved"),
            )
            added += 1
    return added
