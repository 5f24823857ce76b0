"""One tick of a crew's kit, as the button of a row or the phone's script sends it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnText
from staff.models import Crew, KitTick, Outing


class KitTickForm(forms.Form):
    """`ticked_at` and `account` come from the phone's script alone: when it was ticked there and by whom."""

    crew = forms.ModelChoiceField(
        Crew.objects.none(),
        error_messages={"invalid_choice": _("This crew isn't of this outing; open the list anew.")},
    )
    item = ColumnText(KitTick, "item")
    there = forms.BooleanField(required=False)
    ticked_at = forms.DateTimeField(required=False)
    account = forms.IntegerField(required=False)

    def __init__(self, *args: Any, outing: Outing, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        crew = self.fields["crew"]
        assert isinstance(crew, forms.ModelChoiceField)
        crew.queryset = outing.crews.all()
