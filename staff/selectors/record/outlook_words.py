"""What would make somebody clear, in sentences of the reader's language."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from staff.rules.record.missing import Action, ActionKind
from staff.words import reason_words

_CONDITIONS = {
    "series": gettext_lazy("Pre-exposure series"),
    "later-dose": gettext_lazy("Later doses of the series"),
    "recheck": gettext_lazy("Re-check (titre or booster)"),
    "titre": gettext_lazy("No low titre"),
    "briefing": gettext_lazy("Safety briefing"),
    "hold": gettext_lazy("No hold"),
    "active": gettext_lazy("With the team"),
    "letter": gettext_lazy("Clinician's clearance letter"),
}


def condition_words(name: str) -> str:
    """The heading of one thing a site asks for; an unknown one is shown by its code."""
    return str(_CONDITIONS.get(name, name))


def action_words(action: Action) -> str:
    """One sentence: what has to happen, and within which dates."""
    if action.kind is ActionKind.DECISION:
        about = reason_words(action.reason) if action.reason else ""
        return _("Somebody must decide first: %(about)s") % {"about": about}
    what = {
        ActionKind.DOSE: _("Dose %(number)s") % {"number": action.number},
        ActionKind.RECHECK: _("An adequate titre or a booster, as the clinician decides"),
        ActionKind.BOOSTER: _("A booster dose, as the clinician decides"),
        ActionKind.BRIEFING: _("A safety briefing"),
    }[action.kind]
    return what + _window(action.earliest_on, action.last_on) + "."


def _window(earliest_on: date | None, last_on: date | None) -> str:
    if earliest_on is None or last_on is None:
        return ""
    if earliest_on == last_on:
        return " " + _("on %(day)s") % {"day": date_format(earliest_on)}
    return " " + _("from %(first)s, by %(last)s") % {
        "first": date_format(earliest_on),
        "last": date_format(last_on),
    }
