"""Who is on a team."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import DayField, SiteField
from staff.models import CrewRole, Site


class PersonForm(forms.Form):
    """What may change about a person later on."""

    name = forms.CharField(label=_("Name"), max_length=120)
    crew_roles = forms.MultipleChoiceField(
        label=_("Crew roles"),
        choices=CrewRole.choices,
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_("Only people listed in a crew role are offered for it."),
    )
    email = forms.EmailField(label=_("E-mail"), required=False)
    phone = forms.CharField(
        label=_("Telephone"), max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel"})
    )
    active_from = DayField(label=_("First day with the team"), required=False)
    active_until = DayField(label=_("Last day with the team"), required=False)


class PersonEditForm(PersonForm):
    language = forms.ChoiceField(label=_("Language of mail"), choices=settings.LANGUAGES)


class PersonAddForm(PersonForm):
    site = SiteField()
    number = forms.CharField(
        label=_("Staff number"), max_length=30, help_text=_("The site's own; it can't be changed later.")
    )
    field_order = ("site", "number")

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, SiteField)
        site.queryset = sites
