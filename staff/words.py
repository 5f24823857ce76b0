"""Codes of the rules turned into sentences in the reader's language."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from staff.rules.record.dose_standing import DoseJudgement
from staff.rules.record.reasons import Reason, ReasonCode, Value
from staff.rules.record.series import DoseReason, DoseResult

NOT_STORED = gettext_lazy(
    "The stored clearance doesn't follow from the record; have the administrator recompute it."
)
BEING_RECOMPUTED = gettext_lazy("The record or the site's rules changed; this clearance is being recomputed.")


def _day(value: Value | None) -> str:
    return date_format(value) if isinstance(value, date) else "?"


def _doses_so_far(reason: Reason) -> str:
    valid, required = int(str(reason.params.get("valid", 0))), int(str(reason.params["required"]))
    return ngettext(
        "%(valid)d of %(required)d dose counts.", "%(valid)d of %(required)d doses count.", required
    ) % {"valid": valid, "required": required}


def _next_dose(reason: Reason) -> str:
    if "due_on" not in reason.params:
        return ""
    due, earliest = reason.params["due_on"], reason.params["earliest_on"]
    words = (
        _("Dose %(number)s: due %(due)s.")
        if earliest == due
        else _("Dose %(number)s: due %(due)s, counts from %(earliest)s.")
    )
    return " " + words % {"number": reason.params["number"], "due": _day(due), "earliest": _day(earliest)}


def next_dose_words(reason: Reason) -> str:
    """From when the next dose counts; empty for a reason that names none."""
    if "earliest_on" not in reason.params:
        return ""
    return _("Dose %(number)s counts from %(earliest)s.") % {
        "number": reason.params["number"],
        "earliest": _day(reason.params["earliest_on"]),
    }


def _no_doses(reason: Reason) -> str:
    return _("No dose on record; %(required)s are needed before field work.") % {
        "required": reason.params.get("required", "?")
    }


def _incomplete(reason: Reason) -> str:
    return _("The pre-exposure series isn't complete.") + " " + _doses_so_far(reason) + _next_dose(reason)


def _too_few(reason: Reason) -> str:
    return _("Too few doses for this site.") + " " + _doses_so_far(reason) + _next_dose(reason)


def _settling(reason: Reason) -> str:
    return _("The series was complete on %(done)s; field work may start on %(clear)s.") % {
        "done": _day(reason.params["complete_on"]),
        "clear": _day(reason.params["clear_from"]),
    }


def _titre_low(reason: Reason) -> str:
    return _("The titre of %(date)s was %(value)s IU/mL, below 0.5; a dose is needed, ask the clinician.") % {
        "date": _day(reason.params["taken_on"]),
        "value": reason.params["iu_per_ml"],
    }


def _recheck(reason: Reason) -> str:
    return _("The re-check (titre or booster) has been overdue since %(date)s.") % {
        "date": _day(reason.params["lapsed_on"])
    }


def _briefing_missing(_reason: Reason) -> str:
    return _("No safety briefing on record.")


def _briefing_lapsed(reason: Reason) -> str:
    return _("The safety briefing of %(held)s lapsed on %(lapsed)s.") % {
        "held": _day(reason.params["held_on"]),
        "lapsed": _day(reason.params["lapsed_on"]),
    }


def _held(reason: Reason) -> str:
    return _("Held since %(date)s: %(why)s.") % {
        "date": _day(reason.params["starts_on"]),
        "why": str(reason.params["reason"]).rstrip("."),
    }


def _not_active(_reason: Reason) -> str:
    return _("Not with the team on that date.")


def _no_regimen(_reason: Reason) -> str:
    return _("No pre-exposure regimen with enough doses is approved for this site.")


def _letter_needed(reason: Reason) -> str:
    words = _("A clinician's clearance letter that covers this date is needed; ask the clinician.")
    if "lapsed_on" in reason.params:
        words += " " + _("The last one ran out on %(date)s.") % {"date": _day(reason.params["lapsed_on"])}
    if "waiting" in reason.params:
        words += " " + _("One is on record and waits for a second person to check it.")
    return words


_WORDS: dict[ReasonCode, Callable[[Reason], str]] = {
    ReasonCode.NO_DOSES: _no_doses,
    ReasonCode.SERIES_INCOMPLETE: _incomplete,
    ReasonCode.TOO_FEW_DOSES: _too_few,
    ReasonCode.SETTLING: _settling,
    ReasonCode.TITRE_LOW: _titre_low,
    ReasonCode.RECHECK_DUE: _recheck,
    ReasonCode.BRIEFING_MISSING: _briefing_missing,
    ReasonCode.BRIEFING_LAPSED: _briefing_lapsed,
    ReasonCode.HELD: _held,
    ReasonCode.NOT_ACTIVE: _not_active,
    ReasonCode.NO_APPROVED_REGIMEN: _no_regimen,
    ReasonCode.LETTER_NEEDED: _letter_needed,
}


def reason_words(reason: Reason) -> str:
    """One sentence (or two) for a reason a person isn't clear."""
    return _WORDS[reason.code](reason)


def sentence(reasons: Iterable[Reason]) -> str:
    return " ".join(reason_words(reason) for reason in reasons)


def dose_words(result: DoseResult | DoseJudgement) -> str:
    """Why a dose doesn't count (or isn't judged), for a field worker; empty when it counts."""
    if result.reason is None:
        return ""
    days = result.days or 0
    if result.reason is DoseReason.TOO_EARLY:
        return ngettext("%(days)d day too early.", "%(days)d days too early.", days) % {"days": days}
    if result.reason is DoseReason.DATE_UNCERTAIN:
        return ngettext(
            "Only the month is known: it may have been given up to %(days)d day too early. Find the exact date.",
            "Only the month is known: it may have been given up to %(days)d days too early. Find the exact date.",
            days,
        ) % {"days": days}
    return str(_DOSE_WORDS[result.reason])


_DOSE_WORDS: dict[DoseReason, object] = {
    DoseReason.VOIDED: gettext_lazy("Voided."),
    DoseReason.FUTURE: gettext_lazy("Dated in the future."),
    DoseReason.SAME_DAY: gettext_lazy("Another dose counts on that day."),
    DoseReason.ROUTE: gettext_lazy("Route not accepted by the regimen."),
    DoseReason.UNVERIFIED: gettext_lazy("No document seen yet."),
    DoseReason.TOO_FEW_INJECTIONS: gettext_lazy("Fewer injections than the regimen asks for."),
    DoseReason.EXTRA: gettext_lazy("The series was complete already."),
    DoseReason.NOT_APPROVED: gettext_lazy(
        "No pre-exposure regimen is approved for this site, so no dose can count."
    ),
    DoseReason.NO_REGIMEN: gettext_lazy(
        "The regimen of the course isn't stated; void the entry and add it again with the regimen."
    ),
    DoseReason.IMMUNISED_COURSE: gettext_lazy(
        "Given to somebody immunised already: it renews a complete series and proves none."
    ),
    DoseReason.BOOSTER: gettext_lazy("A booster: it renews a complete series and is no part of one."),
}


def too_many_tries(seconds: int) -> str:
    """When a secret may be tried again."""
    minutes = -(-seconds // 60)
    return ngettext(
        "Too many tries. Try again in %(minutes)d minute; until then nothing is compared.",
        "Too many tries. Try again in %(minutes)d minutes; until then nothing is compared.",
        minutes,
    ) % {"minutes": minutes}
