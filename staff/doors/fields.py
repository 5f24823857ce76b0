"""Fields several forms share."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Model
from django.utils.translation import gettext_lazy as _

from staff.ground.limits import longest
from staff.models import Site, Voidable


class DayField(forms.DateField):
    """A date of the site's calendar, picked with the browser's own picker."""

    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class WholeText(forms.CharField):
    """Text with a limit the browser isn't told: it would cut what is pasted without a word, where the answer refuses it
    with a sentence."""

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {name: value for name, value in super().widget_attrs(widget).items() if name != "maxlength"}


class _OfColumn(WholeText):
    """Text that goes into a column: what the column takes is the limit, and the only one."""

    def __init__(self, model: type[Model], column: str, **kwargs: Any) -> None:
        self.model, self.column = model, column
        super().__init__(max_length=longest(model, column), **kwargs)


class ColumnText(_OfColumn):
    """One line, or with its widget several."""


class ColumnSlug(_OfColumn, forms.SlugField):
    """A short name for addresses."""


class ColumnEmail(_OfColumn, forms.EmailField):
    """An address for mail."""


class ReasonField(ColumnText):
    """Why something is done or taken back; it stays with the record. Without a column of its own it is as long as the
    reason of what is voided (`need_reason`)."""

    def __init__(self, model: type[Model] = Voidable, column: str = "void_reason", **kwargs: Any) -> None:
        super().__init__(model, column, **{"label": _("Why"), **kwargs})


# The largest key that either database keeps.
LARGEST_KEY = 2**63 - 1


class RowsField(forms.ModelMultipleChoiceField):
    """Some of the rows the form is given. A number no key can be is refused as any other that is none of them."""

    def clean(self, value: Any) -> Any:
        for key in value or ():
            if str(key).isdecimal() and (len(str(key)) > 19 or int(key) > LARGEST_KEY):
                raise forms.ValidationError(
                    self.error_messages["invalid_choice"], code="invalid_choice", params={"value": key}
                )
        return super().clean(value)


class SiteField(forms.ModelChoiceField):
    """One of the sites the form is given; the only one is chosen already."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(queryset=Site.objects.none(), label=_("Site"), empty_label=None, **kwargs)
