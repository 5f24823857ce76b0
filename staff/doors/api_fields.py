"""Fields of a body or a query. Whatever is wrong with one, its message says what to give instead."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from typing import Any

from django.db.models import Model
from django.utils.functional import Promise
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rest_framework import serializers

from staff.ground import limits

FIRST_YEAR, LAST_YEAR = 1900, 2199
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_CLOCK = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")
_INSTANT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,6})?)?(Z|[+-][0-9]{2}:[0-9]{2})"
)


class _Remedied(serializers.Field):  # type: ignore[type-arg]
    """A field with one remedy, given for every fault it may find."""

    remedy: str | Promise = ""

    def run_validation(self, data: Any = serializers.empty) -> Any:
        try:
            return super().run_validation(data)
        except serializers.ValidationError as fault:
            words = str(self.remedy)
            if data is serializers.empty:
                words = _("This is needed. %(remedy)s") % {"remedy": words}
            raise serializers.ValidationError(words, code="invalid") from fault


class IsoDate(_Remedied, serializers.DateField):
    remedy = format_lazy(
        gettext_lazy("Give a date as year-month-day from {first} to {last}, such as 2026-03-02."),
        first=FIRST_YEAR,
        last=LAST_YEAR,
    )

    def to_internal_value(self, value: Any) -> date:
        if not isinstance(value, str) or not _DATE.fullmatch(value):
            self.fail("invalid", format="YYYY-MM-DD")
        try:
            day = date.fromisoformat(value)
        except ValueError:
            self.fail("invalid", format="YYYY-MM-DD")
        if not FIRST_YEAR <= day.year <= LAST_YEAR:
            self.fail("invalid", format="YYYY-MM-DD")
        return day


class Instant(_Remedied, serializers.DateTimeField):
    """An instant with its zone; comes out aware, in UTC."""

    remedy = gettext_lazy("Give date, time and zone, such as 2026-03-02T09:15:00+03:00.")

    def to_internal_value(self, value: Any) -> datetime:
        if not isinstance(value, str) or not _INSTANT.fullmatch(value):
            self.fail("invalid", format="")
        try:
            instant = datetime.fromisoformat(value)
        except ValueError:
            self.fail("invalid", format="")
        if not FIRST_YEAR <= instant.year <= LAST_YEAR:
            self.fail("invalid", format="")
        return instant.astimezone(UTC)


class Clock(_Remedied, serializers.TimeField):
    """A time of day by the site's clocks, to the minute."""

    remedy = gettext_lazy("Give a time as hours and minutes, such as 07:30.")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="%H:%M", input_formats=["%H:%M"], **kwargs)

    def to_internal_value(self, value: Any) -> time:
        if not isinstance(value, str) or not _CLOCK.fullmatch(value):
            self.fail("invalid", format="HH:MM")
        return time.fromisoformat(value)


class Degrees(_Remedied, serializers.FloatField):
    """Degrees on WGS 84; a text isn't a number."""

    def __init__(self, *, most: int, **kwargs: Any) -> None:
        super().__init__(min_value=-most, max_value=most, **kwargs)
        self.remedy = format_lazy(gettext_lazy("Give degrees from -{most} to {most}."), most=most)

    def to_internal_value(self, data: Any) -> float:
        # No further than once around: neither an endless number nor one too large for a float.
        if isinstance(data, bool) or not isinstance(data, int | float) or not abs(data) <= 360:
            self.fail("invalid")
        return float(super().to_internal_value(data))


class Whole(_Remedied, serializers.IntegerField):
    """A whole number; both limits are always given."""

    def __init__(self, *, lowest: int = 1, highest: int = 2**63 - 1, **kwargs: Any) -> None:
        super().__init__(min_value=lowest, max_value=highest, **kwargs)
        self.remedy = format_lazy(
            gettext_lazy("Give a whole number from {lowest} to {highest}."), lowest=lowest, highest=highest
        )


class Text(_Remedied, serializers.CharField):
    """Text of bounded length, without blanks around it."""

    def __init__(self, *, longest: int, **kwargs: Any) -> None:
        super().__init__(max_length=longest, **kwargs)
        self.remedy = format_lazy(
            gettext_lazy("Give text of at most {longest} characters, without control characters."),
            longest=longest,
        )

    def to_internal_value(self, value: Any) -> str:
        if not isinstance(value, str):
            self.fail("invalid")
        return str(super().to_internal_value(value))


class ColumnText(Text):
    """Text that goes into a column, or is looked for in one: what the column takes is the limit."""

    def __init__(self, model: type[Model], column: str, **kwargs: Any) -> None:
        self.model, self.column = model, column
        super().__init__(longest=limits.longest(model, column), **kwargs)


class Choice(_Remedied, serializers.ChoiceField):
    def __init__(self, choices: Any, **kwargs: Any) -> None:
        super().__init__(choices=choices, **kwargs)
        self.remedy = format_lazy(
            gettext_lazy("Give one of: {choices}."), choices=", ".join(str(choice) for choice in self.choices)
        )

    def to_internal_value(self, value: Any) -> Any:
        if not isinstance(value, str):
            self.fail("invalid_choice", input="")
        return super().to_internal_value(value)


class Many(serializers.ListField):
    """A list of bounded length."""

    def __init__(self, *, longest: int, **kwargs: Any) -> None:
        words = format_lazy(gettext_lazy("Give a list of at most {longest} items."), longest=longest)
        names = ("required", "null", "not_a_list", "max_length")
        super().__init__(max_length=longest, error_messages=dict.fromkeys(names, words), **kwargs)


class Shape(serializers.Serializer[Any]):
    """A body or a query that refuses fields it doesn't know, so that a slip of the pen is never silently dropped."""

    default_error_messages = {  # noqa: RUF012
        "invalid": gettext_lazy("Give a JSON object with the fields by name."),
        "required": gettext_lazy("This is needed: a JSON object with the fields by name."),
        "null": gettext_lazy("Give a JSON object with the fields by name."),
    }

    def to_internal_value(self, data: Any) -> Any:
        unknown = sorted(set(data) - set(self.fields)) if isinstance(data, Mapping) else []
        if unknown:
            words = _("No such field here. Known are: %(known)s.") % {"known": ", ".join(self.fields)}
            raise serializers.ValidationError({limits.shortened(str(name), 80): words for name in unknown})
        return super().to_internal_value(data)


class NoQuery(Shape):
    """For doors that take no parameters."""
