"""Choosing a file, and saying what its columns and dates mean."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _

from staff.models import DateFormatChoice, Evidence, ImportDraft, Site, User
from staff.rules.importing.cells import Sheet, column_letter
from staff.rules.importing.columns import Field
from staff.selectors.access import OFFICER, sites_as
from staff.services.importing.files import MAX_COLUMNS, refuse_size
from staff.services.importing.words import field_words

SAMPLES = 3


class UploadForm(forms.Form):
    site = forms.ModelChoiceField(queryset=Site.objects.none(), label=_("Site"), empty_label=None)
    file = forms.FileField(
        label=_("Staff list"),
        help_text=_(
            "An .xlsx workbook or a CSV file; one row a person with up to six dose dates, or one row a dose."
        ),
        widget=forms.FileInput(attrs={"accept": ".xlsx,.csv,.tsv,.txt"}),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites = sites_as(user, OFFICER)
        field = self.fields["site"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = sites
        if len(sites) == 1:
            field.initial = sites[0]

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        if file.size is None or file.size > settings.IMPORT_MAX_BYTES:
            raise forms.ValidationError(refuse_size().message)
        return file


class ChoicesForm(forms.Form):
    """One choice for each column of the sheet, how written dates are meant, and what they rest on."""

    date_format = forms.ChoiceField(
        label=_("Dates"),
        choices=DateFormatChoice.choices,
        widget=forms.RadioSelect,
        help_text=_("A date such as 03/04/2026 can mean two days, so say how this list writes them."),
    )
    evidence = forms.ChoiceField(
        label=_("What the dates rest on"),
        choices=Evidence.choices,
        widget=forms.RadioSelect,
        help_text=_(
            "Doses nobody has seen a document for are kept and clear no one for field work. A safety briefing "
            "needs no document: it counts from the date in the list."
        ),
    )

    def __init__(self, *args: Any, draft: ImportDraft, sheet: Sheet, **kwargs: Any) -> None:
        initial = {"date_format": draft.date_format, "evidence": draft.evidence}
        initial |= {f"column_{column}": field for column, field in draft.mapping.items()}
        kwargs["initial"] = initial
        super().__init__(*args, **kwargs)
        self.sheet = sheet
        meanings = [("", _("not read")), *((field.value, field_words(field)) for field in Field)]
        for column in self._columns():
            self.fields[f"column_{column}"] = forms.ChoiceField(
                label=self._label(column), choices=meanings, required=False
            )

    def _columns(self) -> range:
        return range(min(MAX_COLUMNS, max(len(row.cells) for row in self.sheet.rows)))

    def _label(self, column: int) -> str:
        return f"{column_letter(column)} {self.sheet.rows[0].cell(column).shown}".strip()

    def columns(self) -> list[dict[str, Any]]:
        """Each column's choice with the first things that stand in it; columns with nothing in them are left out."""
        rows = []
        for column in self._columns():
            values = (row.cell(column).shown for row in self.sheet.body[:50])
            samples = [value for value in values if value][:SAMPLES]
            if samples or self.sheet.rows[0].cell(column).shown:
                rows.append({"field": self[f"column_{column}"], "samples": samples})
        return rows

    def mapping(self) -> dict[int, Field]:
        """The meaning chosen for each column; call on a valid form."""
        chosen = ((column, self.cleaned_data[f"column_{column}"]) for column in self._columns())
        return {column: Field(value) for column, value in chosen if value}
