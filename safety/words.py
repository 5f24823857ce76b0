"""Codes of the safety rules turned into words in the reader's language."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from safety.models import Answer, Cause, Incident, Notice, NoticeEvent, PlannedDose
from safety.registry import find_kind
from safety.rules.case.category import Category, CategoryReason, Suggestion
from safety.rules.case.washing import WashState, WashSummary
from safety.rules.course.dose_doubts import DoseDoubt, Doubted
from safety.rules.course.dose_due import DoseDue, dose_due
from safety.rules.notices.follow_up import Audience, PlanRow
from safety.rules.notices.site_plan import Break
from staff.models import ROLE_WORDS


@dataclass(frozen=True)
class State:
    """A state as pages show it: a mark and a word, and the look that goes with them (app.css, `.state`)."""

    look: str
    mark: str
    word: str


CATEGORY_REASONS = {
    CategoryReason.NOT_RECORDED: gettext_lazy("No contact is described yet."),
    CategoryReason.NO_CONTACT: gettext_lazy("The report says there was no contact."),
    CategoryReason.NEEDLESTICK_ASK_CLINICIAN: gettext_lazy(
        "A needlestick stands in no exposure table: ask the clinician."
    ),
    CategoryReason.BAT_NEAR_ASK_CLINICIAN: gettext_lazy(
        "A bat was near and a bat's bite is easily missed: ask the clinician."
    ),
    CategoryReason.BAT_CONTACT: gettext_lazy("Any direct contact with a bat."),
    CategoryReason.CONTACT_UNKNOWN: gettext_lazy(
        "Nobody knows what the contact was, so the worst is assumed."
    ),
    CategoryReason.SKIN_UNKNOWN: gettext_lazy(
        "Nobody knows whether the skin was broken, so the worst is assumed."
    ),
    CategoryReason.SKIN_BROKEN: gettext_lazy("The skin was broken."),
    CategoryReason.BLED: gettext_lazy("It bled."),
    CategoryReason.SALIVA_ON_BROKEN_SKIN: gettext_lazy("Saliva on broken skin."),
    CategoryReason.SALIVA_ON_EYE_NOSE_MOUTH: gettext_lazy("Saliva on eye, nose or mouth."),
    CategoryReason.SKIN_NOT_BROKEN: gettext_lazy("The skin was neither broken nor bleeding."),
    CategoryReason.INTACT_SKIN_ONLY: gettext_lazy("Touch or a lick on unbroken skin only."),
}

AUDIENCES = {
    **{str(audience): ROLE_WORDS[audience] for audience in Audience},
    "roster": gettext_lazy("officer and crew lead"),
    "account": gettext_lazy("the owner of the account"),
    "report": gettext_lazy("clinic liaison and safety officer"),
    "further": gettext_lazy("officers and further contact"),
}


BREAKS = {
    Break.NOT_IN_TIME: gettext_lazy(
        "%(who)s: give a row on the day before, or on the day at noon or earlier."
    ),
    Break.NOT_DAILY: gettext_lazy("%(who)s: give a row that repeats daily from 1 or 2 days after."),
    Break.TOO_FAR: gettext_lazy("A row lies at most 30 days from the date; check the number."),
    Break.TWICE: gettext_lazy("Two rows stand on the same day; keep one of them."),
    Break.NOBODY: gettext_lazy("A row tells nobody; tick who is told, or take it out."),
}


def break_words(fault: Break, audience: Audience | None) -> str:
    """What to mend in a plan that leaves somebody untold."""
    return str(BREAKS[fault]) % {"who": str(AUDIENCES[audience]).capitalize() if audience else ""}


def day_words(row: PlanRow) -> str:
    """When a row of a plan is sent: “on the day”, “2 days before”, “daily from 2 days after”."""
    days = abs(row.offset_days)
    if not row.offset_days:
        return _("on the day")
    if row.offset_days < 0:
        return ngettext("%(n)d day before", "%(n)d days before", days) % {"n": days}
    words = ngettext("%(n)d day after", "%(n)d days after", days) % {"n": days}
    return _("daily from %(day)s") % {"day": words} if row.repeats_daily else words


def hour_words(row: PlanRow) -> str:
    return f"{row.hour:02d}:00" if row.hour is not None else _("hour of reminders")


def row_words(row: PlanRow) -> str:
    """A row of a plan in one line."""
    told = ", ".join(str(AUDIENCES[audience]) for audience in row.audiences)
    return f"{day_words(row)}, {hour_words(row)}: {told}"


def caution_words() -> str:
    """What stands wherever treatment is touched."""
    return _(
        "Local health authorities and clinicians decide treatment; this program keeps dates and reminds; "
        "never wait for it."
    )


def category_word(suggestion: Suggestion) -> str:
    """ "Category III", or that none is suggested."""
    if suggestion.category is None:
        return _("No category suggested")
    return _("Category %(roman)s") % {"roman": Category(suggestion.category).name}


def category_reasons(suggestion: Suggestion) -> list[str]:
    return [str(CATEGORY_REASONS[reason]) for reason in suggestion.reasons]


def minutes_seconds(seconds: int) -> str:
    """Seconds as m:ss, as on a clock."""
    return f"{seconds // 60}:{seconds % 60:02d}"


def wash_state(washing: WashSummary) -> State:
    return {
        WashState.NOT_RECORDED: State("wait", "?", _("not recorded")),
        WashState.NOT_WASHED: State("blocked", "✕", _("not washed")),
        WashState.RUNNING: State("wait", "…", _("washing now")),
        WashState.SHORT: State("late", "!", _("too short")),
        WashState.REACHED: State("clear", "✓", _("long enough")),
    }[washing.state]


def wash_words(washing: WashSummary, target_minutes: int) -> str:
    """One sentence: what was washed, and by how much it falls short of the target."""
    target = ngettext("%(n)d minute", "%(n)d minutes", target_minutes) % {"n": target_minutes}
    facts = {
        "washed": minutes_seconds(washing.seconds),
        "short": minutes_seconds(washing.short_seconds),
        "target": target,
    }
    return {
        WashState.NOT_RECORDED: _(
            "Nobody has written down whether it was washed. That isn't “not washed”: ask."
        ),
        WashState.NOT_WASHED: _(
            "The report says it was not washed. Wash now: soap and running water, %(target)s."
        ),
        WashState.RUNNING: _("The clock runs: %(washed)s of %(target)s so far, %(short)s to go."),
        WashState.SHORT: _("Washed for %(washed)s; that is %(short)s short of %(target)s."),
        WashState.REACHED: _("Washed for %(washed)s; the target is %(target)s."),
    }[washing.state] % facts


def soap_words(soap: str) -> str:
    return {
        Answer.YES.value: _("with soap"),
        Answer.NO.value: _("not all of it with soap"),
        Answer.UNKNOWN.value: _("soap not known"),
    }[str(soap)]


def dose_state(dose: PlannedDose, today: date) -> State:
    """Where one planned dose stands on `today`, the date where it is given."""
    if dose.given_on is not None:
        return State("clear", "✓", _("given late") if dose.days_late else _("given"))
    last = date_format(dose.latest_on, "DATE_FORMAT")
    return {
        DoseDue.OVERDUE: State("late", "!", _("overdue")),
        DoseDue.IN_WINDOW: State("wait", "●", _("in its window until %(day)s") % {"day": last}),
        DoseDue.DUE: State("wait", "●", _("due today")),
        DoseDue.NOT_YET: State("done", "○", _("to come")),
    }[dose_due(due_on=dose.due_on, latest_on=dose.latest_on, today=today)]


DOSE_DOUBTS = {
    DoseDoubt.TOO_EARLY: gettext_lazy("Too early: by the plan a dose counts from %(day)s on."),
    DoseDoubt.BEYOND: gettext_lazy("Every dose of the course is given already; this one is beyond it."),
    DoseDoubt.DISPLACES: gettext_lazy("With this dose that of %(day)s would no longer count."),
    DoseDoubt.BEFORE_WINDOW: gettext_lazy("This lies before the day it is due, %(day)s."),
}


def dose_doubt_words(doubted: Doubted) -> str:
    """Why a dose is asked back about, and the date that helps."""
    day = date_format(doubted.on, "DATE_FORMAT") if doubted.on else _("a later day")
    return str(DOSE_DOUBTS[doubted.doubt]) % {"day": day}


def case_state(incident: Incident, *, late: bool) -> State:
    if not incident.is_open:
        return State("done", "●", _("closed"))
    return State("late", "!", _("something is late")) if late else State("wait", "…", _("open"))


def notice_state(notice: Notice) -> State:
    look, mark = {
        Notice.State.WAITING: ("wait", "…"),
        Notice.State.CLAIMED: ("wait", "→"),
        Notice.State.SENT: ("clear", "✓"),
        Notice.State.FAILED: ("blocked", "✕"),
        Notice.State.WITHDRAWN: ("done", "–"),
        Notice.State.GATHERED: ("wait", "="),
    }[Notice.State(notice.state)]
    return State(look, mark, notice.get_state_display())


def state_label(value: str) -> str:
    """The name of a notice's state as its history holds it; nothing for the state before the first."""
    if value == NoticeEvent.SEEN:
        return _("seen")
    return str(Notice.State(value).label) if value else ""


def notice_kind(name: str) -> str:
    """What a kind of notice is about."""
    kind = find_kind(name)
    if kind is None:
        return _("a kind of notice nobody knows here, “%(kind)s”; it is not sent") % {"kind": name}
    return str(kind.word)


def audience_words(notice: Notice) -> str:
    return str(AUDIENCES.get(notice.audience, notice.audience))


def cause_words(incident: Incident) -> list[str]:
    return [str(Cause(cause).label) for cause in incident.causes]
