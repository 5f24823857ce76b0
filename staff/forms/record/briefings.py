"""One safety briefing for several people: whom to show, and what is recorded of those ticked."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnText, DayField, RowsField, SiteField, WholeText
from staff.models import Briefing, Outing, Person, Site

BRIEFING_STATES = [("", _("whatever it is")), ("1", _("missing or run out"))]


class WhoForm(forms.Form):
    """Whom the table shows; whoever is ticked stays in it whatever is chosen here."""

    site = SiteField()
    outing = forms.ChoiceField(label=_("On the outing"), required=False)
    text = WholeText(label=_("Name or staff number"), required=False, max_length=120)
    lacking = forms.ChoiceField(label=_("Briefing"), choices=BRIEFING_STATES, required=False)

    def __init__(self, *args: Any, sites: QuerySet[Site], outings: Iterable[Outing], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site, outing = self.fields["site"], self.fields["outing"]
        assert isinstance(site, SiteField)
        assert isinstance(outing, forms.ChoiceField)
        site.queryset = sites
        self._outings = {str(each.pk): each for each in outings}
        outing.choices = [("", _("anybody at the site")), *_by_site(self._outings.values())]

    def clean(self) -> dict[str, Any]:
        """`outing` becomes the outing itself, or None."""
        data = super().clean() or {}
        data["outing"] = outing = self._outings.get(data.get("outing", ""))
        if outing and data.get("site") and outing.site_id != data["site"].pk:
            self.add_error("outing", _("This outing is of another site; choose one of the site above."))
        return data


def _by_site(outings: Iterable[Outing]) -> list[tuple[str, list[tuple[str, str]]]]:
    return [
        (site.name, [(str(each.pk), f"{date_format(each.date)}, {each.area}") for each in group])
        for site, group in groupby(outings, key=lambda outing: outing.site)
    ]


class BriefingsForm(forms.Form):
    held_on = DayField(label=_("Briefing held on"))
    held_by = ColumnText(Briefing, "held_by", label=_("Who held it"), required=False)
    people = RowsField(
        Person.objects.none(),
        label=_("Who took part"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": _("Tick at least one person who took part."),
            "invalid_choice": _("Somebody ticked isn't of this site; nothing was recorded. Look again."),
            "invalid_pk_value": _("Somebody ticked isn't of this site; nothing was recorded. Look again."),
        },
    )

    def __init__(self, *args: Any, people: QuerySet[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["people"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = people
