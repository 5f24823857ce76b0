"""The figures of a site's rules, and the reason for changing them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from staff.doors.fields import ReasonField
from staff.models import RulesChange, SiteRules


class RulesForm(forms.ModelForm):
    """Every figure of the rules; `changes` holds those that differ from what stands. Saving is the service's."""

    class Meta:
        model = SiteRules
        fields = tuple(field.name for field in SiteRules._meta.fields if field.name not in {"id", "site"})

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """The limits of the model stand at the inputs too."""
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            for limit in SiteRules._meta.get_field(name).validators:  # type: ignore[union-attr]
                if isinstance(limit, MinValueValidator | MaxValueValidator):
                    end = "min" if isinstance(limit, MinValueValidator) else "max"
                    field.widget.attrs[end] = limit.limit_value

    def changes(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.changed_data if name in self.cleaned_data}


class RulesReasonForm(forms.Form):
    reason = ReasonField(RulesChange, "reason")
