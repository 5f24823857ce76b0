"""Which site and period the figures are about."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from staff.doors.fields import DayField, SiteField
from staff.models import Site
from staff.services.record.records import EARLIEST_DATE

# Far enough for any plan, and a day short enough of the calendar's end to be an instant in every zone.
LATEST_DATE = date(2199, 12, 31)


def check_year(day: date) -> None:
    if not EARLIEST_DATE <= day <= LATEST_DATE:
        raise forms.ValidationError(_("%(date)s can't be right; check the year.") % {"date": day.isoformat()})


class FiguresForm(forms.Form):
    site = SiteField()
    first = DayField(label=gettext_lazy("From"), validators=[check_year])
    last = DayField(label=gettext_lazy("Until"), validators=[check_year])

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]

    def clean_last(self) -> date:
        first, last = self.cleaned_data.get("first"), self.cleaned_data["last"]
        if first and last < first:
            raise forms.ValidationError(_("The period ends before it begins; check both dates."))
        return last  # type: ignore[no-any-return]
