"""The letter of one case, in one language: facts, the record, what is listed, and the strip to send back."""

from __future__ import annotations

from datetime import datetime

from django.utils.formats import date_format, time_format
from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.utils.translation import override

from safety.letter.facts import LetterFacts
from safety.letter.record import dose_lines, further_words, listed_section, record_section, split_doses
from safety.letter.shape import Letter, Limits, Row, Section
from safety.letter.words import animal_words, more_words, place_words, urgency_words, washing_words
from safety.models import Incident, Wound
from safety.selectors.case.cases import suggestion_of, washing_of
from safety.selectors.case.urgency import urgency_of
from safety.words import category_reasons, category_word, cause_words
from staff.models import User


def letter_of(facts: LetterFacts, language: str, limits: Limits) -> Letter:
    """The letter in `language`, with what goes beyond `limits` summed up."""
    with override(language):
        return _letter(facts, language, limits)


def _letter(facts: LetterFacts, language: str, limits: Limits) -> Letter:
    incident = facts.incident
    shown, further = split_doses(list(facts.doses), limits.doses)
    return Letter(
        language=language,
        reference=incident.reference,
        title=_("Referral after an exposure to an animal"),
        heading=_heading(facts),
        caution=_(
            "Local health authorities and clinicians decide treatment; this letter only states what was reported "
            "and recorded. Don't wait for it."
        ),
        sections=(_person(facts), _happened(facts, limits), _suggested(incident)),
        record=record_section(facts),
        dose_titles=(_("Given"), _("Purpose, route"), _("Product, batch"), _("Counts?")),
        doses=dose_lines(shown),
        further=further_words(further),
        listed=listed_section(facts, limits.regimens),
        strip_title=_("Answer of the clinic – please cut off and send back"),
        strip_note=_("No name here on purpose: the reference says whose it is."),
        strip_fields=_strip(),
    )


def _strip() -> tuple[str, ...]:
    return (
        _("Seen on"),
        _("Decision"),
        _("Regimen"),
        _("Doses given (dates)"),
        _("Immunoglobulin"),
        _("Next date"),
        _("Signature"),
    )


def _at(instant: datetime, facts: LetterFacts) -> str:
    local = instant.astimezone(facts.incident.site.zone)
    return f"{date_format(local, 'DATE_FORMAT')}, {time_format(local, 'H:i')}"


def _heading(facts: LetterFacts) -> tuple[str, ...]:
    site, clinic = facts.incident.site, facts.clinic
    to = ", ".join(part for part in (clinic.name, clinic.address, clinic.phone) if part) if clinic else ""
    return (
        _("To: %(clinic)s") % {"clinic": to or _("the clinician on duty")},
        _("From: %(site)s · %(authority)s · emergency number %(number)s")
        % {"site": site.name, "authority": site.authority, "number": site.emergency_number},
        _("Written on %(day)s (time of %(zone)s)") % {"day": _at(facts.now, facts), "zone": site.time_zone},
    )


def _person(facts: LetterFacts) -> Section:
    person = facts.incident.person
    return Section(
        _("Person"),
        (
            Row(_("Name"), f"{person.name} ({person.number})"),
            Row(_("Telephone"), person.phone or _("not stated")),
            Row(_("Clinic liaison"), _liaison(facts.liaison)),
        ),
    )


def _liaison(user: User | None) -> str:
    """Name and telephone; an account that is on no team has none, so its mail address stands in."""
    if user is None:
        return _("not stated")
    person = getattr(user, "person", None)
    reach = person.phone if person and person.phone else user.email
    return ", ".join(part for part in (user.get_full_name() or user.username, reach) if part)


def _happened(facts: LetterFacts, limits: Limits) -> Section:
    incident = facts.incident
    washing = washing_of(incident, facts.now)
    causes = ", ".join(cause_words(incident))
    rows = [
        Row(_("What, when"), f"{incident.get_kind_display()}; {_at(incident.happened_at, facts)}"),
        Row(_("Where"), place_words(incident)),
        *_wounds(incident, limits.wounds),
        Row(_("Washing"), washing_words(incident, washing)),
        Row(_("Animal"), animal_words(incident)),
        Row(
            _("Task, causes"), "; ".join(part for part in (str(incident.get_task_display()), causes) if part)
        ),
    ]
    if incident.narrative:
        told = " ".join(incident.narrative.split())
        rows.append(
            Row(_("In their words"), Truncator(told).chars(limits.narrative) if limits.narrative else told)
        )
    unfinished = (_("The answers aren't all in yet: ask the person."),) if incident.details_at is None else ()
    return Section(_("What happened, as reported"), tuple(rows), unfinished)


def _wounds(incident: Incident, limit: int | None) -> list[Row]:
    wounds: list[Wound] = list(incident.wounds.all())
    if not wounds:
        return [Row(_("Contact"), _("not described"))]
    shown = wounds if limit is None else wounds[:limit]
    rows = [Row(_("Contact"), _wound(wound)) for wound in shown]
    if len(shown) < len(wounds):
        rows.append(Row(_("Contact"), more_words(len(wounds) - len(shown))))
    return rows


def _wound(wound: Wound) -> str:
    return _("%(contact)s; %(where)s; skin broken: %(broken)s; bled: %(bled)s; deep: %(deep)s") % {
        "contact": wound.get_contact_display(),
        "where": wound.get_body_site_display(),
        "broken": wound.get_broke_skin_display(),
        "bled": wound.get_bled_display(),
        "deep": wound.get_deep_display(),
    }


def _suggested(incident: Incident) -> Section:
    suggestion = suggestion_of(incident)
    reasons = " ".join(category_reasons(suggestion))
    rows = [Row(_("Category (WHO)"), f"{category_word(suggestion)}. {reasons}")]
    urgency = urgency_of(incident)
    if urgency is not None:
        rows.append(Row(_("Urgency"), urgency_words(urgency)))
    return Section(_("Suggested by the answers; the clinician decides"), tuple(rows))
