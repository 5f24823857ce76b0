"""The immunisation record in the letter, and the regimens listed beside it for the clinician's decision."""

from __future__ import annotations

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from safety.letter.facts import LetterFacts
from safety.letter.shape import DoseLine, Row, Section
from safety.letter.words import NOTHING_LISTED, STATUS_WORDS, lapse_words, more_words
from safety.rules.case.exposed_person import ImmuneStatus
from staff.models import Dose, Purpose, Regimen, Titre
from staff.words import dose_words


def day_words(dose: Dose) -> str:
    """The date, or the month where no more is known."""
    return date_format(dose.given_on, "DATE_FORMAT" if dose.date_known == "day" else "YEAR_MONTH_FORMAT")


def record_section(facts: LetterFacts) -> Section:
    """What the record says of the person as of the exposure, and the newest titre."""
    complete_on = facts.record.complete_on
    since = date_format(complete_on, "DATE_FORMAT") if complete_on else ""
    notes = [str(STATUS_WORDS[facts.status]) % {"day": since}]
    if facts.status is not ImmuneStatus.IMMUNISED and since:
        notes.append(str(STATUS_WORDS[ImmuneStatus.IMMUNISED]) % {"day": since})
    notes += dict.fromkeys(map(lapse_words, facts.record.lapses))
    return Section(
        _("Immunisation record"), (Row(_("Newest titre"), titre_words(facts.titre)),), tuple(notes)
    )


def titre_words(titre: Titre | None) -> str:
    if titre is None:
        return _("none on record")
    return _("%(value)s IU/mL on %(day)s") % {
        "value": titre.iu_per_ml,
        "day": date_format(titre.taken_on, "DATE_FORMAT"),
    }


def dose_lines(doses: list[Dose]) -> tuple[DoseLine, ...]:
    return tuple(
        DoseLine(
            day=day_words(dose),
            purpose=", ".join(part for part in (str(Purpose(dose.purpose).label), dose.route) if part),
            product=", ".join(part for part in (dose.product, dose.batch) if part) or "–",
            counts=counts_words(dose),
        )
        for dose in doses
    )


def counts(dose: Dose) -> bool:
    """Whether its stored standing says so; a dose that has none yet is not said to count."""
    standing = getattr(dose, "standing", None)
    return bool(standing and standing.counts)


def split_doses(doses: list[Dose], limit: int | None) -> tuple[list[Dose], list[Dose]]:
    """Those written out, by date, and those summed up: what counts goes before what doesn't, newer before older."""
    if limit is None or len(doses) <= limit:
        return doses, []
    newest = doses[::-1]
    by_weight = [one for one in newest if counts(one)] + [one for one in newest if not counts(one)]
    kept = {dose.pk for dose in by_weight[:limit]}
    return [dose for dose in doses if dose.pk in kept], [dose for dose in doses if dose.pk not in kept]


def counts_words(dose: Dose) -> str:
    """Whether the dose counts, by its stored standing; a dose that has none yet is not said to count."""
    standing = getattr(dose, "standing", None)
    if standing is None:
        return _("not judged yet")
    if standing.counts:
        return _("counts as dose %(step)d") % {"step": standing.step}
    why = dose_words(standing.as_judgement())
    return _("doesn't count: %(why)s") % {"why": why} if standing.counts is False else why


def further_words(doses: list[Dose]) -> str:
    """One sentence for the doses that the page has no room for."""
    if not doses:
        return ""
    counting = sum(counts(dose) for dose in doses)
    return ngettext(
        "And %(n)d further dose, %(first)s to %(last)s, of which %(counting)d counts.",
        "And %(n)d further doses, %(first)s to %(last)s, of which %(counting)d count.",
        len(doses),
    ) % {
        "n": len(doses),
        "first": day_words(doses[0]),
        "last": day_words(doses[-1]),
        "counting": counting,
    }


def listed_section(facts: LetterFacts, limit: int | None) -> Section:
    """What the site's approved table lists for such a case. It proposes nothing where tables disagree."""
    title = _("Listed by the site's authority for such a case – for the clinician's decision")
    regimens = facts.regimens
    if not facts.exposed:
        return Section(title, notes=(_("Nothing reported so far is an exposure, so none is listed."),))
    if regimens is None:
        return Section(title, notes=(str(NOTHING_LISTED[facts.status]),))
    if not regimens:
        return Section(title, notes=(_("The authority has approved no regimen for such a case."),))
    shown = regimens if limit is None else regimens[:limit]
    notes = () if len(shown) == len(regimens) else (more_words(len(regimens) - len(shown)),)
    return Section(title, tuple(Row("/".join(one.routes), regimen_words(one)) for one in shown), notes)


def regimen_words(regimen: Regimen) -> str:
    """The days, with the injections of a day that has several, and its name in the table: "days 0 (×2), 7, 21"."""
    days = []
    for step in sorted(regimen.steps.all(), key=lambda step: step.number):
        window = str(step.day) if step.latest_day == step.day else f"{step.day}–{step.latest_day}"
        days.append(f"{window} (×{step.injections})" if step.injections > 1 else window)
    return _("days %(days)s; in the table: %(code)s, version %(version)d") % {
        "days": ", ".join(days),
        "code": regimen.code,
        "version": regimen.version,
    }
