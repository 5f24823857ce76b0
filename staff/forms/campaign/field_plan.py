"""A campaign's areas and the days its outings are planned on."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnText, DayField, ReasonField, RowsField
from staff.forms.campaign.campaigns import WEEKDAYS
from staff.models import CampaignArea, CommunityNotice, Method, Outing


class AreaForm(forms.Form):
    name = ColumnText(CampaignArea, "name", label=_("Area"))
    method = forms.ChoiceField(label=_("Method"), choices=Method.choices, initial=Method.HOUSE_TO_HOUSE)
    first_on = DayField(label=_("First day"))
    days = forms.IntegerField(label=_("Days of work"), min_value=1, max_value=60, initial=1)
    crews = forms.IntegerField(label=_("Crews each day"), min_value=1, max_value=12, initial=1)
    adults = forms.IntegerField(
        label=_("Adult dogs expected, on all days together"), min_value=0, max_value=100_000, initial=0
    )
    puppies = forms.IntegerField(
        label=_("Puppies expected, on all days together"), min_value=0, max_value=100_000, initial=0
    )
    riders = forms.IntegerField(
        label=_("People who ride there each day (a helmet each)"), min_value=0, max_value=200, initial=0
    )


class FieldDaysForm(forms.Form):
    """On which days of the week teams go out."""

    weekdays = forms.MultipleChoiceField(
        label=_("Days of the week"), choices=WEEKDAYS, widget=forms.CheckboxSelectMultiple
    )
    again = forms.BooleanField(
        label=_("Plan the days again whose outing was cancelled or moved away"), required=False
    )


class ToldForm(forms.Form):
    """Who was told of an outing, when and how."""

    told_on = DayField(label=_("Day on which they were told"))
    who = ColumnText(
        CommunityNotice,
        "who",
        label=_("Who was told"),
        help_text=_("For example: the owners of the lane, through the village elder."),
    )
    how = ColumnText(
        CommunityNotice,
        "how",
        label=_("How"),
        help_text=_("For example: loudspeaker, notice at the market, visit."),
    )
    new_date = forms.BooleanField(
        label=_("They were told the new date"),
        required=False,
        help_text=_(
            "Asked only if the outing was moved on the day they were told: whoever was told before the move knows "
            "the wrong date."
        ),
    )

    def __init__(self, *args: Any, moved: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not moved:
            del self.fields["new_date"]


LONGEST_KEY = 18


class OutingsField(RowsField):
    widget = forms.CheckboxSelectMultiple

    def clean(self, value: Any) -> Any:
        for key in value or ():
            # No database counts so far; SQLite would fail instead of finding nothing.
            if len(str(key)) > LONGEST_KEY:
                raise forms.ValidationError(
                    self.error_messages["invalid_pk_value"], code="invalid_pk_value", params={"pk": key}
                )
        return super().clean(value)

    def label_from_instance(self, obj: Outing) -> str:
        return f"{date_format(obj.date, 'D')} {date_format(obj.date)}, {obj.area}"


class ToldTogetherForm(ToldForm):
    outings = OutingsField(
        Outing.objects.none(),
        label=_("Outings"),
        error_messages={"required": _("Choose at least one outing.")},
    )
    field_order = ("outings", "told_on", "who", "how", "new_date")

    def __init__(self, *args: Any, outings: QuerySet[Outing], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["outings"]
        assert isinstance(field, OutingsField)
        field.queryset = outings


class VoidToldForm(forms.Form):
    reason = ReasonField(label=_("Why is this word wrong?"))
