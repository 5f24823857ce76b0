"""A date of the site's calendar."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnText, DayField
from staff.models import SiteHoliday


class HolidayForm(forms.Form):
    day = DayField(label=_("date"), help_text=_("A holiday that moves needs its date for each year."))
    name = ColumnText(SiteHoliday, "name", label=_("holiday"))
