"""Is the service at work? For the officer, each line with a word and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.timesince import timesince
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.models import Notice
from safety.selectors.case.cases import courses_behind
from safety.selectors.case.desk import unanswered_of
from safety.selectors.notices.notices import oldest_due_age
from safety.selectors.upkeep.status import ServiceSeen, notices_by_state, refused_lately, services_seen
from safety.words import State
from staff import guards
from staff.bell import bell_answers
from staff.doors.page import OFFICER, page, signed_in
from staff.models import User

# As the health check has it (safety.pages.upkeep.health).
LONGEST_WAIT = timedelta(minutes=10)


@dataclass(frozen=True)
class StatusLine:
    """What is looked at, how it stands, and the remedy where it doesn't; `link` leads to the rows."""

    name: str
    state: State
    words: str
    remedy: str = ""
    link: str = ""


def good(word: str) -> State:
    return State("clear", "✓", word)


def bad(word: str) -> State:
    return State("late", "!", word)


@never_cache
@page(OFFICER)
def status(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    lines = [*tick_lines(services_seen(now), now), *outbox_lines(user, now), *ground_lines()]
    troubled = sum(line.state.look == "late" for line in lines)
    return render(request, "safety/status.html", {"lines": lines, "troubled": troubled, "now": now})


def tick_lines(seen: list[ServiceSeen], now: datetime) -> list[StatusLine]:
    start = _("Start the worker and beat, or “manage.py send_due --loop 30”: until then no reminder leaves.")
    if not seen:
        return [StatusLine(_("Tick"), bad(_("never ran")), _("Nothing has ticked yet."), start)]
    names = {"worker": _("Worker"), "send_due": _("Loop of send_due")}
    lines = []
    for one in seen:
        words = _("Last at work %(time)s ago.") % {"time": timesince(now - one.age, now)}
        name = names.get(one.name, one.name)
        if one.unused:
            lines.append(StatusLine(name, State("done", "–", _("not in use")), words))
        elif one.late:
            lines.append(StatusLine(name, bad(_("late")), words, start))
        else:
            lines.append(StatusLine(name, good(_("at work")), words))
    return lines


def outbox_lines(user: User, now: datetime) -> list[StatusLine]:
    """Of the whole service how long mail waits; counts are of the reader's own sites."""
    age, counts = oldest_due_age(now), notices_by_state(user)
    behind, refused = courses_behind().count(), refused_lately(user, now)

    def listed(state: str) -> str:
        return f"{reverse('notices')}?state={state}"

    waits = age is not None and age > LONGEST_WAIT
    oldest = StatusLine(
        _("Mail that is due"),
        bad(_("late")) if waits else good(_("on time")),
        _("The oldest has waited for %(time)s.") % {"time": timesince(now - age, now)}
        if age is not None
        else _("Nothing that is due waits."),
        _("Look at the last error of the notices that wait; tell people by telephone meanwhile.")
        if waits
        else "",
        listed(Notice.State.WAITING),
    )
    silent = len(unanswered_of(user, now))
    waiting, claimed = counts.get(Notice.State.WAITING, 0), counts.get(Notice.State.CLAIMED, 0)
    return [
        oldest,
        StatusLine(
            _("In the queue"),
            good(_("counted")),
            _("Waiting: %(waiting)d. Being sent: %(claimed)d.") % {"waiting": waiting, "claimed": claimed},
            link=listed(Notice.State.WAITING),
        ),
        StatusLine(
            _("Refused for good"),
            bad(_("look")) if refused else good(_("none lately")),
            _("In the last seven days: %(lately)d. Ever: %(ever)d.")
            % {"lately": refused, "ever": counts.get(Notice.State.FAILED, 0)},
            _("Tell the readers another way, correct the address and send the notice again.")
            if refused
            else "",
            listed(Notice.State.FAILED),
        ),
        StatusLine(
            _("Unanswered mails"),
            bad(_("ring them")) if silent else good(_("none")),
            _("Sent longer ago than the site's hours, and nobody has said to have seen them: %(n)d.")
            % {"n": silent},
            _("They stand on the desk; ring the people.") if silent else "",
        ),
        StatusLine(
            _("Plans"),
            bad(_("behind")) if behind else good(_("up to date")),
            _("Courses to be planned: %(n)d.") % {"n": behind},
            _("The next tick plans them; when they stay, read the worker's log.") if behind else "",
        ),
    ]


def ground_lines() -> list[StatusLine]:
    """What everything stands on. That this page is there says that the database answers."""
    missing, rings = guards.missing(connection), bell_answers()
    return [
        StatusLine(_("Database"), good(_("answers")), _("It answered this page.")),
        StatusLine(
            _("Guards of the database"),
            bad(_("missing")) if missing else good(_("in place")),
            _("Missing: %(n)d.") % {"n": len(missing)},
            _("Run “manage.py migrate”: it puts them back. Roster nobody until then.") if missing else "",
        ),
        StatusLine(
            _("Bell (the broker)"),
            good(_("answers")) if rings else bad(_("no answer")),
            _("It wakes the worker; without it the queue is only slower."),
            ""
            if rings
            else _("Start the broker. With “manage.py send_due --loop 30” mail leaves without it."),
        ),
    ]
