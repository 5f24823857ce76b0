"""Fields several forms share."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from staff.models import Site


class DayField(forms.DateField):
    """A date of the site's calendar, picked with the browser's own picker."""

    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class ReasonField(forms.CharField):
    """Why something is taken back; it stays with the record."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_length": 300, "label": _("Why"), **kwargs})


class SiteField(forms.ModelChoiceField):
    """One of the sites the form is given; the only one is chosen already."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(queryset=Site.objects.none(), label=_("Site"), empty_label=None, **kwargs)
