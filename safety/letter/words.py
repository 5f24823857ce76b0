"""Words of the letter that no other page has; each has a translation in config/locale for every letter language."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from safety.models import Incident
from safety.models.case.choices import AnimalSign, Answer
from safety.rules.case.exposed_person import ImmuneStatus
from safety.rules.case.urgency import UrgencyReason
from safety.rules.case.washing import WashState, WashSummary
from staff.rules.record.reasons import Reason, ReasonCode

URGENCY_REASONS = {
    UrgencyReason.BAT: gettext_lazy("A bat."),
    UrgencyReason.HEAD_FACE_NECK: gettext_lazy("Head, face or neck."),
    UrgencyReason.HANDS: gettext_lazy("Hand or fingers."),
    UrgencyReason.GENITALS: gettext_lazy("Genitals."),
    UrgencyReason.DEEP: gettext_lazy("A deep wound."),
    UrgencyReason.SEVERAL: gettext_lazy("Several wounds."),
}
STATUS_WORDS = {
    ImmuneStatus.NOT_IMMUNISED: gettext_lazy("No complete series is on record before this exposure."),
    ImmuneStatus.IMMUNISED: gettext_lazy("A complete series is on record since %(day)s."),
    ImmuneStatus.RECENT_COURSE: gettext_lazy(
        "Post-exposure doses were given in the three months before this exposure."
    ),
    ImmuneStatus.IMMUNOCOMPROMISED: gettext_lazy("The record says: immunocompromised."),
}
NOTHING_LISTED = {
    ImmuneStatus.RECENT_COURSE: gettext_lazy(
        "Tables disagree on a new exposure soon after a course, so none is listed: the clinician decides."
    ),
    ImmuneStatus.IMMUNOCOMPROMISED: gettext_lazy(
        "Tables disagree for somebody immunocompromised, so none is listed: the clinician decides."
    ),
}


def lapse_words(reason: Reason) -> str:
    """That the series has lapsed on the day of the exposure, since when and by which rule of the site."""
    if reason.code is ReasonCode.TITRE_LOW:
        return _(
            "By the site's own rule it doesn't hold since the low titre of %(day)s; the clinician decides."
        ) % {"day": _day(reason, "taken_on")}
    return _(
        "By the site's own rule on re-checks and later doses it lapsed on %(day)s; the clinician decides."
    ) % {"day": _day(reason, "lapsed_on")}


def _day(reason: Reason, name: str) -> str:
    day = reason.params[name]
    assert isinstance(day, date)
    return date_format(day, "DATE_FORMAT")


def urgency_words(reasons: tuple[UrgencyReason, ...]) -> str:
    """Whether anything reported makes it more urgent than the same day, and what."""
    if not reasons:
        return _("To be seen the same day.")
    return " ".join(
        [_("To be seen the same day, with more urgency:"), *(str(URGENCY_REASONS[one]) for one in reasons)]
    )


def washing_words(incident: Incident, washing: WashSummary) -> str:
    """Minutes, soap, water and antiseptic; not washed and not recorded stay apart."""
    antiseptic = _("antiseptic: %(answer)s") % {"answer": incident.get_antiseptic_display()}
    if washing.state is WashState.NOT_RECORDED:
        return _("Not recorded.") + " " + antiseptic.capitalize() + "."
    if washing.state is WashState.NOT_WASHED:
        return _("Not washed, the report says.") + " " + antiseptic.capitalize() + "."
    minutes, seconds = divmod(washing.seconds, 60)
    parts = [
        _("%(minutes)d min %(seconds)02d s") % {"minutes": minutes, "seconds": seconds},
        _("soap: %(answer)s") % {"answer": Answer(washing.soap.value).label},
        _("running water: %(answer)s") % {"answer": _running_water(incident).label},
        antiseptic,
    ]
    words = "; ".join(str(part) for part in parts) + "."
    if washing.state is WashState.REACHED:
        return words
    target = incident.site.rules.wash_minutes
    return words + " " + _("Short of the %(target)d minutes asked for.") % {"target": target}


def _running_water(incident: Incident) -> Answer:
    """Yes when every spell had it, no when any lacked it, else not known."""
    answers = {spell.running_water for spell in incident.wash_spells.all()}
    if answers == {Answer.YES.value}:
        return Answer.YES
    return Answer.NO if Answer.NO.value in answers else Answer.UNKNOWN


def animal_words(incident: Incident) -> str:
    """The animal and what was seen of it, every answer said, also "don't know"."""
    facts = incident.animal_facts
    signs = [str(AnimalSign(sign).label) for sign in facts.get("signs", []) if sign in AnimalSign.values]
    parts = [
        str(incident.get_animal_display()),
        _("collar: %(answer)s") % {"answer": _answer(facts.get("collar"))},
        _("owner known: %(answer)s") % {"answer": _answer(facts.get("owner_known"))},
        _("can be watched: %(answer)s") % {"answer": _answer(facts.get("can_be_watched"))},
        _("signs: %(signs)s") % {"signs": ", ".join(signs) or _answer(None)},
        _("others hurt: %(answer)s") % {"answer": incident.get_others_hurt_display()},
    ]
    return "; ".join(parts) + "."


def _answer(value: object) -> str:
    return str(Answer(value).label if value in Answer.values else Answer.UNKNOWN.label)


def place_words(incident: Incident) -> str:
    """Where it happened, as far as anybody said."""
    area = incident.outing.area if incident.outing else ""
    if incident.latitude is None or incident.longitude is None:
        return area or _("not stated")
    where = f"{incident.latitude:.5f}, {incident.longitude:.5f}"
    if incident.accuracy_m is not None:
        where += " " + _("(to within %(metres)d m)") % {"metres": round(incident.accuracy_m)}
    return f"{area}; {where}" if area else where


def more_words(left_out: int) -> str:
    return ngettext("and %(n)d more, see the case", "and %(n)d more, see the case", left_out) % {
        "n": left_out
    }
