"""What to show on the readiness board."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import DayField, SiteField
from staff.models import CrewRole, Site

ALL, CLEAR, NOT_CLEAR, LEFT = "", "clear", "not-clear", "left"
STATES = [
    (ALL, _("everybody")),
    (CLEAR, _("clear")),
    (NOT_CLEAR, _("not clear")),
    (LEFT, _("left the team")),
]


class BoardForm(forms.Form):
    on = DayField(label=_("Field work on"))
    site = SiteField()
    role = forms.ChoiceField(label=_("Crew role"), required=False)
    state = forms.ChoiceField(label=_("Who"), choices=STATES, required=False)

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, SiteField)
        site.queryset = sites
        role = self.fields["role"]
        assert isinstance(role, forms.ChoiceField)
        role.choices = [("", _("any")), *CrewRole.choices]


class OnForm(forms.Form):
    """The one date somebody asks about."""

    on = DayField(label=_("Field work on"))
