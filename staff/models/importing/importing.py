"""A staff list on its way in: kept between upload and confirmation, emptied when applied, removed when discarded."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.record.entries import Evidence
from staff.models.site.site import Site
from staff.rules.importing.dates import DateFormat


class DateFormatChoice(models.TextChoices):
    ISO = DateFormat.ISO.value, _("year-month-day only, such as 2026-04-03 (and real dates of a workbook)")
    DAY_FIRST = DateFormat.DAY_FIRST.value, _("day, month, year: 03/04/2026 is 3 April")
    MONTH_FIRST = DateFormat.MONTH_FIRST.value, _("month, day, year: 03/04/2026 is 4 March")


class ImportDraft(models.Model):
    """`sheet` is staff.rules.importing.cells.pack of the file, health data; it is emptied when the import is applied."""

    key = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="import_drafts")
    file_name = models.CharField(_("file"), max_length=120)
    sheet = models.JSONField(default=dict)
    # Field by column counted from 0, as {"0": "number"}.
    mapping = models.JSONField(default=dict)
    date_format = models.CharField(
        _("written dates"), max_length=20, choices=DateFormatChoice, default=DateFormatChoice.ISO
    )
    evidence = models.CharField(_("evidence"), max_length=20, choices=Evidence, blank=True)
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    uploaded_at = models.DateTimeField()
    applied_at = models.DateTimeField(null=True, blank=True)
    # Counts alone, no health data.
    result = models.JSONField(default=dict)

    class Meta:
        ordering: ClassVar = ["-uploaded_at"]

    def __str__(self) -> str:
        return self.file_name
