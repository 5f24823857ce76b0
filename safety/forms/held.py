"""What an officer says about a report that waits for a name."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.forms.case import ReasonForm
from safety.forms.report import PersonChoice
from staff.models import Person


class PlaceForm(ReasonForm):
    person = PersonChoice(
        label=_("whose report is it?"), queryset=Person.objects.none(), empty_label=_("choose a person")
    )
    field_order = ("person", "reason")

    def __init__(self, *args: Any, people: QuerySet[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["person"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = people
