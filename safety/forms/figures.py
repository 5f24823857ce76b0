"""Which site and period the figures are about."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from staff.forms.fields import DayField, SiteField
from staff.models import Site


class FiguresForm(forms.Form):
    site = SiteField()
    first = DayField(label=gettext_lazy("From"))
    last = DayField(label=gettext_lazy("Until"))

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]

    def clean_last(self) -> date:
        first, last = self.cleaned_data.get("first"), self.cleaned_data["last"]
        if first and last < first:
            raise forms.ValidationError(_("The period ends before it begins; check both dates."))
        return last  # type: ignore[no-any-return]
