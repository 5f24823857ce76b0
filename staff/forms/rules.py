"""The figures of a site's rules, and the reason for changing them."""

from __future__ import annotations

from typing import Any

from django import forms

from staff.forms.fields import ReasonField
from staff.models import SiteRules


class RulesForm(forms.ModelForm):
    """Every figure of the rules; `changes` holds those that differ from what stands. Saving is the service's."""

    class Meta:
        model = SiteRules
        fields = tuple(field.name for field in SiteRules._meta.fields if field.name not in {"id", "site"})

    def changes(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.changed_data if name in self.cleaned_data}


class RulesReasonForm(forms.Form):
    reason = ReasonField()
