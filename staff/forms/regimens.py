"""Trying a regimen, and noting that the authority approved it."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from staff.forms.fields import DayField, SiteField
from staff.models import LateRuleChoice, Route, Site


class TryForm(forms.Form):
    """Dates to lay over a regimen; nothing is kept. Two more dates than the regimen has steps can be entered."""

    def __init__(self, *args: Any, steps: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.day_names = [f"dose_{number}" for number in range(1, steps + 3)]
        for number, name in enumerate(self.day_names, start=1):
            label = _("Date %(number)d") % {"number": number}
            self.fields[name] = DayField(label=label, required=False)
        self.fields["on"] = DayField(
            label=_("As things stand on"), help_text=_("Doses after this date don't count yet.")
        )
        self.fields["route"] = forms.ChoiceField(
            label=_("Route"), choices=[("", _("not stated")), *Route.choices], required=False
        )
        self.fields["late_rule"] = forms.ChoiceField(
            label=_("When a dose is late"), choices=LateRuleChoice.choices, required=False
        )
        self.fields["restart_after_days"] = forms.IntegerField(
            label=_("Days late after which it starts again"), min_value=1, max_value=3650, required=False
        )

    def days(self) -> list[date]:
        """The dates entered, earliest first."""
        return sorted(filter(None, (self.cleaned_data[name] for name in self.day_names)))


class ApproveForm(forms.Form):
    site = SiteField()
    authority = forms.CharField(label=_("Authority that approved it"), max_length=200)
    approved_on = DayField(label=_("Approved on"))
    document = forms.CharField(
        label=_("Document"), max_length=200, help_text=_("Its number or title, so that others find it.")
    )

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, SiteField)
        site.queryset = sites
