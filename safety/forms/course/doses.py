"""The list of doses as a form: a tick, a date and a batch for each row."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from safety.forms.case.case import date_field
from staff.doors.fields import ColumnText
from staff.models import Dose


class GivenDoseForm(forms.Form):
    """One row; nothing of it is asked for unless it is ticked."""

    given = forms.BooleanField(label=_("given"), required=False)
    given_on = date_field(_("given on"))
    batch = ColumnText(Dose, "batch", label=_("batch"), required=False)

    confirmed = forms.BooleanField(label=_("the clinic's paper says so"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["given_on"].required = False

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if said.get("given") and not said.get("given_on") and "given_on" not in self.errors:
            self.add_error("given_on", _("Write the date on which it was given."))
        return said

    @property
    def ticked(self) -> bool:
        return bool(self.is_valid() and self.cleaned_data["given"])
