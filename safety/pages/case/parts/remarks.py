"""What a case says about itself: how it came in from a phone, what is still to come, what doesn't fit together."""

from __future__ import annotations

from datetime import datetime

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from safety.letter.facts import LetterFacts
from safety.letter.record import counts, titre_words
from safety.letter.words import STATUS_WORDS
from safety.models import Incident
from safety.rules.case.contradictions import Contradiction, ReportFacts, contradictions
from safety.rules.case.exposed_person import ImmuneStatus
from safety.selectors.phone.phone import messages_of
from safety.services.phone.outcome import held_words

_DOESNT_FIT = {
    Contradiction.HAPPENED_IN_FUTURE: gettext_lazy("It is said to have happened after it was reported."),
    Contradiction.HAPPENED_LONG_AGO: gettext_lazy(
        "It is said to have happened over a year before the report."
    ),
    Contradiction.WASHED_BEFORE: gettext_lazy("Washing is said to have begun before it happened."),
    Contradiction.WASH_IN_FUTURE: gettext_lazy("Washing is said to lie in the future."),
    Contradiction.WASH_TOO_LONG: gettext_lazy("Washing is said to have taken over three hours."),
    Contradiction.WASHED_AND_NOT: gettext_lazy("It says both that it was washed and that it wasn't."),
    Contradiction.VISIT_BEFORE: gettext_lazy("The clinic visit is dated before it happened."),
    Contradiction.VISIT_IN_FUTURE: gettext_lazy("The clinic visit is dated in the future."),
}


def reporter_words(incident: Incident) -> str:
    if incident.reported_by is not None:
        return str(incident.reported_by)
    through = incident.reported_through
    return _("by the phone link of %(name)s") % {"name": through.person if through else ""}


def record_words(facts: LetterFacts) -> str:
    """What the letter says of the record before the exposure, in one breath."""
    incident, since = facts.incident, facts.record.complete_on
    before = incident.site.local_date(incident.happened_at)
    doses = [dose for dose in facts.doses if dose.given_on < before]
    if since:
        said = _("complete series since %(day)s") % {"day": date_format(since, "DATE_FORMAT")}
    elif doses:
        said = ngettext(
            "%(counting)d of %(n)d dose counts", "%(counting)d of %(n)d doses count", len(doses)
        ) % {"counting": sum(counts(dose) for dose in doses), "n": len(doses)}
    else:
        said = _("no dose on record")
    line = _("Before this exposure: %(said)s; newest titre: %(titre)s.") % {
        "said": said,
        "titre": titre_words(facts.titre),
    }
    further = facts.status in (ImmuneStatus.IMMUNOCOMPROMISED, ImmuneStatus.RECENT_COURSE)
    return f"{line} {STATUS_WORDS[facts.status]}" if further else line


def case_remarks(incident: Incident, now: datetime) -> list[str]:
    """Sentences for whoever follows the case: what is still to come, and what is to be asked."""
    remarks = []
    if incident.details_at is None:
        remarks.append(
            _("The details follow: so far only that washing began, or a part of the answers, has come.")
        )
    if incident.late_report_at is not None:
        remarks.append(_("Its report came after it had been closed, and opened it again."))
    through = incident.reported_through
    if through is not None and through.ended_at is not None and through.ended_at <= incident.reported_at:
        remarks.append(_("It was sent with an ended link: ask the person."))
    reasons = {code for row in messages_of(incident) for code in row.reason.split()} - {"ended-link"}
    return remarks + [held_words(code) for code in sorted(reasons)] + _contradictions(incident, now)


def _contradictions(incident: Incident, now: datetime) -> list[str]:
    facts = ReportFacts(
        happened_at=incident.happened_at,
        reported_at=incident.reported_at,
        happened_on=incident.site.local_date(incident.happened_at),
        spells=[spell.as_fact() for spell in incident.wash_spells.all()],
        stated_not_washed=incident.not_washed,
        visits=[visit.visited_on for visit in incident.visits.all()],
    )
    found = contradictions(facts, now=now, today=incident.site.local_date(now))
    ask = _("Ask the person and write down what is right.")
    return [f"{_DOESNT_FIT[kind]} {ask}" for kind in found]
