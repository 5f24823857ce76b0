"""The words of the choice of a clinic: one catalogue for the service's pages and, sent along, for the phone's script.

The recipe by which they become sentences stands twice, in safety/pages/clinic/clinic_choice.py and config/static/phone/clinics.js;
tests/browser/clinics_agree.py holds both to the same sentences. So none here may need a plural or a locale's own form.
"""

from __future__ import annotations

import re
from functools import cache

from django.utils.dates import MONTHS_3, WEEKDAYS_ABBR
from django.utils.text import capfirst
from django.utils.translation import gettext as _


def fill(words: str, values: dict[str, object]) -> str:
    """The sentence with its {names} filled in, as the phone does it."""
    return re.sub(r"\{(\w+)\}", lambda found: str(values.get(found[1], found[0])), words)


@cache
def clinic_catalogue(_language: str) -> dict[str, str]:
    """All of it in the language that is active, which is `_language`."""
    return _line_words() | _why_words()


def _line_words() -> dict[str, str]:
    """What is said of each clinic."""
    return {
        "open_on_arrival": _("open until {time}"),
        "open_long": _("open round the clock"),
        "closed_until": _("closed when you get there; opens {time}"),
        "closed": _("closed when you get there, and for the days known ahead"),
        "hours_unknown": _("opening hours not known: ring"),
        "distance": _("{km} km in a straight line"),
        "distance_near": _("under 1 km in a straight line"),
        "distance_not_known": _("distance not known"),
        "vaccine_yes": _("vaccine in stock"),
        "vaccine_no": _("no vaccine in stock"),
        "vaccine_unknown": _("vaccine not known: ask"),
        "vaccine_old": _("vaccine in stock by old news: ask"),
        "immunoglobulin_yes": _("immunoglobulin in stock"),
        "immunoglobulin_no": _("no immunoglobulin in stock"),
        "immunoglobulin_unknown": _("immunoglobulin not known: ask"),
        "immunoglobulin_old": _("immunoglobulin in stock by old news: ask"),
        "asked_today": _("asked today"),
        "asked_yesterday": _("asked yesterday"),
        "asked": _("asked {days} days ago"),
        "never_asked": _("never asked"),
        "day_clock": _("{weekday} {day} {month} {clock}"),
        # Monday and January first, one bar between.
        "weekdays": "|".join(capfirst(str(WEEKDAYS_ABBR[day])) for day in range(7)),
        "months": "|".join(capfirst(str(MONTHS_3[month])) for month in range(1, 13)),
    }


def _why_words() -> dict[str, str]:
    """Why the first is first, what isn't known about it, and what to do when there is none."""
    return {
        "why_nearest": _("The nearest of the list that is open when you get there and may have vaccine."),
        "why_of_the_day": _(
            "The clinic your crew goes by today: it was rung before you left and said it is open."
        ),
        "why_immunoglobulin": _(
            "It is known to have immunoglobulin, which the clinician may ask for, and is {minutes} min farther "
            "than the nearest with vaccine."
        ),
        "why_unplaced": _("It is open now. How far it is isn't known: its place isn't on the list."),
        "why_no_place": _(
            "It is open now. Distances aren't known, since no place was given: ask somebody who knows the area."
        ),
        "why_vaccine_unknown": _(
            "Nobody knows for sure whether it has vaccine, and no open clinic is known to have it: ring first."
        ),
        "why_has_immunoglobulin": _("The clinician may ask for immunoglobulin; it is known to have some."),
        "why_immunoglobulin_elsewhere": _(
            "Get the vaccine here now. The clinician may ask for immunoglobulin too: {name} is known to have it, and it "
            "can be given up to 7 days after the first dose."
        ),
        "why_immunoglobulin_nowhere": _(
            "The clinician may ask for immunoglobulin, and no clinic of the list is known to have it: ask the clinic "
            "where it can be had."
        ),
        "why_record_unknown": _(
            "Whether the person is immunised or has a weak immune system isn't known here, so immunoglobulin is counted "
            "as needed."
        ),
        "why_stale": _("What it has in stock was last asked too long ago to rely on: ring before you go."),
        "no_clinic": _(
            "No clinic of the list is known to be open when you get there and to have vaccine. Call the emergency "
            "number and the health authority now, and ring the clinics below; don't wait for one to open."
        ),
        "no_clinics": _(
            "This site's list holds no clinic: call the emergency number and ask for the nearest one with rabies vaccine."
        ),
    }
