"""Who is on a team."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnEmail, ColumnText, DayField, SiteField
from staff.models import CrewRole, Person, Site


class PersonForm(forms.Form):
    """What may change about a person later on."""

    name = ColumnText(Person, "name", label=_("Name"))
    crew_roles = forms.MultipleChoiceField(
        label=_("Crew roles"),
        choices=CrewRole.choices,
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_("Only people listed in a crew role are offered for it."),
    )
    email = ColumnEmail(Person, "email", label=_("E-mail"), required=False)
    phone = ColumnText(
        Person, "phone", label=_("Telephone"), required=False, widget=forms.TextInput(attrs={"type": "tel"})
    )
    active_from = DayField(label=_("First day with the team"), required=False)
    active_until = DayField(label=_("Last day with the team"), required=False)


class PersonEditForm(PersonForm):
    language = forms.ChoiceField(label=_("Language of mail"), choices=settings.LANGUAGES)


class PersonAddForm(PersonForm):
    site = SiteField()
    number = ColumnText(
        Person, "number", label=_("Staff number"), help_text=_("The site's own; it can't be changed later.")
    )
    field_order = ("site", "number")

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, SiteField)
        site.queryset = sites
