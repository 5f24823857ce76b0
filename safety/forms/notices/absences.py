"""Days away and who stands in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from safety.models import Absence
from safety.selectors.notices.absences import deputies_for, users_kept_by
from staff.doors.fields import ColumnText, DayField
from staff.models import User


class AbsenceForm(forms.Form):
    user = forms.ModelChoiceField(label=_("who is away"), queryset=User.objects.none(), empty_label=None)
    first_day = DayField(label=_("first day"))
    last_day = DayField(label=_("last day"), help_text=_("It is included."))
    deputy = forms.ModelChoiceField(
        label=_("who stands in"),
        queryset=User.objects.none(),
        required=False,
        empty_label=_("nobody"),
        help_text=_(
            "Written to instead. With nobody, the absent person and everybody of the other role are written to."
        ),
    )
    note = ColumnText(
        Absence,
        "note",
        label=_("note"),
        required=False,
        help_text=_(
            "The officers of the site and the deputy read it: no reason and no word of health is needed."
        ),
    )

    def __init__(self, *args: Any, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, users in (("user", users_kept_by(actor)), ("deputy", deputies_for(actor))):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = users
        self.fields["user"].initial = actor
