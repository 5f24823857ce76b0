"""What an officer says about a report that waits for a name."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.forms.case.case import ReasonForm
from safety.forms.case.report import PersonChoice
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
        by_site: dict[str, list[tuple[int, str]]] = {}
        for person in people.order_by("site__name", "name"):
            by_site.setdefault(person.site.name, []).append((person.pk, field.label_from_instance(person)))
        field.choices = [("", field.empty_label), *by_site.items()]
