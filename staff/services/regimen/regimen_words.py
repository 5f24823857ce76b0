"""Sentences about a regimen that can't be taken as it is."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from staff.ground.limits import shortened
from staff.rules.regimen.regimen_check import StepFault


def field_words(field: str) -> str:
    return {
        "number": _("number"),
        "day": _("day"),
        "latest_day": _("last day of the window"),
        "smallest_gap": _("smallest gap"),
        "injections": _("injections"),
        "later": _("keeps a complete series"),
        "routes": _("routes"),
        "steps": _("steps"),
    }.get(field, field)


def _remedy(code: str) -> str:
    return {
        "no-route": _("choose at least one route."),
        "no-step": _("add at least one step."),
        "not-in-order": _("number the steps 1, 2, 3 in their order."),
        "before-its-day": _("the window can't end before its day."),
        "negative": _("can't be below 0."),
        "none": _("at least 1 is given."),
        "first-is-day-0": _("the first step is day 0."),
        "first-has-no-gap": _("the first step has no gap before it; enter 0."),
        "nothing-complete-yet": _("the first step can't keep a series that isn't complete yet."),
        "not-after-step-before": _("must lie after the day of the step before."),
        "longer-than-planned": _("can't be longer than the days between the two steps."),
        "follows-a-later-dose": _("a step after one that keeps a complete series keeps it too."),
    }[code]


def fault_words(fault: StepFault) -> str:
    """One sentence that names the step and the field and says what would be right."""
    if fault.step:
        words = {"step": fault.step, "field": field_words(fault.field), "remedy": _remedy(fault.code)}
        return _("Step %(step)d, %(field)s: %(remedy)s") % words
    return _("%(field)s: %(remedy)s") % {
        "field": field_words(fault.field).capitalize(),
        "remedy": _remedy(fault.code),
    }


def schema_words(keyword: object, wanted: Any, found: Any) -> str:
    """What a value that breaks the schema of the file should be; `keyword` is the schema's own word."""
    if keyword == "required":
        missing = [name for name in wanted if name not in found]
        return _("missing: %(fields)s.") % {"fields": ", ".join(missing)}
    if keyword == "additionalProperties":
        return _("not part of the format: %(fields)s.") % {"fields": shortened(", ".join(wanted), 200)}
    if keyword == "enum":
        return _("must be one of %(words)s.") % {"words": ", ".join(wanted)}
    if keyword == "type":
        return _("must be of the kind “%(kind)s”.") % {"kind": _kinds().get(wanted, wanted)}
    sentences = {
        "minimum": _("must be %(limit)s or more."),
        "maximum": _("must be %(limit)s or less."),
        "minItems": _("needs at least %(limit)s entry."),
        "maxItems": _("may hold at most %(limit)s entries."),
        "maxLength": _("may hold at most %(limit)s characters."),
        "uniqueItems": _("names the same thing twice."),
        "pattern": _("is empty or holds characters that can't stand here."),
    }
    return sentences.get(str(keyword), _("breaks the format (%(limit)s).")) % {"limit": wanted}


def _kinds() -> dict[str, str]:
    return {
        "integer": _("whole number"),
        "string": _("text"),
        "array": _("list"),
        "object": _("row of named fields"),
        "boolean": _("true or false"),
    }
