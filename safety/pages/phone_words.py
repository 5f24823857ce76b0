"""The words and choices of the phone's page, as data for its scripts: one source, in the reader's language."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from safety.models import Animal, AnimalSign, Answer, BodySite, Cause, Kind, Task

Choices = list[tuple[str, str]]


def _pairs(choices: Any) -> Choices:
    return [(str(value), str(label)) for value, label in choices.choices]


def _animals() -> Choices:
    """One tap says what it was and, for a roaming dog, whether it wore a collar."""
    labels = dict(_pairs(Animal))
    return [
        ("dog-owned", labels["dog-owned"]),
        ("dog-roaming-collar", _("roaming dog with a collar")),
        ("dog-roaming-bare", _("roaming dog without a collar")),
        ("dog-roaming", _("roaming dog, collar not seen")),
        *[(value, labels[value]) for value in ("cat", "bat", "other", "unknown")],
    ]


def phone_choices() -> dict[str, Choices]:
    dont_know = str(Answer.UNKNOWN.label)
    return {
        "answer": _pairs(Answer),
        "kind": _pairs(Kind),
        "site": _pairs(BodySite),
        "skin": [
            ("whole", _("skin not broken")),
            ("broken", _("skin broken, no blood")),
            ("bled", _("it bled")),
            ("deep", _("deep")),
            ("unknown", dont_know),
        ],
        "licked": [
            ("whole", _("unbroken skin")),
            ("broken", _("broken skin: a graze, a cut, a rash")),
            ("face", _("eye, nose or mouth")),
            ("unknown", dont_know),
        ],
        "animal": _animals(),
        "signs": _pairs(AnimalSign),
        "watched": [
            ("owner", _("yes, its owner is known")),
            ("place", _("yes, we know where it stays")),
            ("owner-gone", _("no, though its owner is known")),
            ("gone", _("no, it is gone")),
            ("unknown", dont_know),
        ],
        "task": _pairs(Task),
        "causes": _pairs(Cause),
        "others": _pairs(Answer),
        "washed": [
            ("not-washed", _("not washed")),
            ("about-5", _("about 5 minutes")),
            ("about-10", _("about 10 minutes")),
            ("about-15", _("15 minutes or more")),
            ("unknown", dont_know),
        ],
    }


def phone_words() -> dict[str, str]:
    return (
        _clock_words()
        | _question_words()
        | _sending_words()
        | _clinic_words()
        | _crew_words()
        | _phone_words()
    )


def _clock_words() -> dict[str, str]:
    return {
        "wash_now": _("Wash now: soap and running water, {minutes}"),
        "no_clock": _("Not washed yet? Wash now: soap and running water"),
        "start": _("Start the wash clock"),
        "wash_on": _("Wash on"),
        "stop": _("Stop"),
        "stopped": _("The clock is stopped."),
        "since": _("Started at {time}."),
        "for_person": _("For {name}."),
        "washed_so_far": _("Washed so far"),
        "reached": _("long enough"),
        "to_go": _("{left} to go"),
        "say_minute": _("Washed {washed}, {left} to go."),
        "say_reached": _("Long enough. Stop the clock and go to the clinic today."),
        "stop_early": _("Washed {washed}; {left} are missing. Wash on if you can."),
        "go_on": _("Wash on"),
        "stop_anyway": _("Stop all the same"),
        "forgotten": _("The clock has run for {time}. How long was the washing?"),
        "take_back": _("Started by mistake: take it back"),
        "taken_back": _("Taken back; nothing was sent."),
        "too_late": _("It has gone out already: tell your safety officer."),
        "how_washed": _("How is it washed?"),
        "with_soap": _("soap and running water"),
        "water_only": _("running water only"),
        "soap_only": _("soap, no running water"),
        "neither": _("neither"),
        "antiseptic": _("Iodine or a like antiseptic afterwards?"),
        "next_title": _("What comes next"),
        "next_1": _("Wash the whole time, also when it hurts little."),
        "next_2": _("Then iodine or a like antiseptic, if it is at hand."),
        "next_3": _("Go to the clinic the same day, also when the wound is small or you are immunised."),
        "next_4": _(
            "Take your immunisation record along; the clinician decides about vaccine and immunoglobulin."
        ),
        "caution": _(
            "Local health authorities and clinicians decide treatment; this program keeps dates and reminds; "
            "never wait for it."
        ),
    }


def _question_words() -> dict[str, str]:
    return {
        "q_who": _("Who was hurt?"),
        "me": _("me"),
        "q_kind": _("What happened?"),
        "q_washed": _("How long was it washed?"),
        "q_site": _("Where on the body?"),
        "q_skin": _("What did it do to the skin?"),
        "q_licked": _("What was licked?"),
        "q_animal": _("Which animal?"),
        "q_signs": _("Was anything unusual about it?"),
        "q_watched": _("Can it be watched for the next days?"),
        "q_task": _("At which task?"),
        "q_causes": _("Why did it happen?"),
        "q_others": _("Was anybody else hurt?"),
        "q_say": _("Anything else, in your words?"),
        "say_hint": _(
            "You may leave it empty. What you type is kept on this phone only encrypted or sealed."
        ),
        "progress": _("Question {n} of {of}"),
        "next": _("Next"),
        "more_than_one": _("More than one"),
        "back": _("Back"),
        "add_place": _("Add where I am"),
        "place_asking": _("Asking the phone for its place …"),
        "place_added": _("The place is added, accurate to {metres} m."),
        "place_refused": _("The phone gave no place. The report is fine without it."),
        "earlier": _("It happened earlier"),
        "when": _("Day and time"),
        "report": _("Report"),
    }


def _sending_words() -> dict[str, str]:
    return {
        "send": _("Send the report"),
        "waits": _("Your report is kept on this phone"),
        "arrived": _("Your report has arrived"),
        "refused_title": _("Your report was not taken"),
        "waits_network": _("It waits for network and goes by itself."),
        "waits_busy": _("It waits; the service was busy or out of order (code {code}) and is asked again."),
        "has_reference": _("It has arrived; the reference is {reference}."),
        "has_arrived": _("It has arrived; the safety officer looks whose it is."),
        "refused": _(
            "The service didn't take it (code {code}). {message} Nothing is lost: it stays sealed on this "
            "phone. Try again, and tell your safety officer."
        ),
        "try_again": _("Try again"),
        "clinic_now": _("Go to the clinic today. Don't wait for an answer to this report."),
        "to_start": _("To the start page"),
        "outbox": _("Reports from this phone"),
        "draft_waits": _(
            "A report that isn't finished is kept sealed and goes by itself half an hour after its last answer."
        ),
        "open_here": _("Begun on this phone"),
        "open_clock": _("Washing since {time}: go on"),
        "open_washed": _("Washed at {time}: go on with the report"),
        "open_report": _("Report begun at {time}: go on"),
        "report_only": _("Report without the clock"),
        "no_sealing": _(
            "This page isn't on a secure address, so nothing you type is kept on this phone. The clock works; "
            "to report, use the plain page, which sends at once."
        ),
        "plain_form": _("Report on the plain page"),
    }


def _clinic_words() -> dict[str, str]:
    return {
        "clinics": _("Clinics"),
        "no_card": _(
            "This phone has no list of clinics yet: enter the code of your team card while there is network."
        ),
        "from_here": _("Distances are from where this phone was asked."),
        "distance_unknown": _("Distances aren't known: the phone wasn't asked where it is."),
        "use_place": _("Use where I am"),
        "no_clinic": _(
            "No clinic of the list is known to be open with vaccine when you get there. Ring the emergency number or the authority below."
        ),
        "no_immunoglobulin": _(
            "No clinic of the list is known to have immunoglobulin. Ask the clinic where it can be had."
        ),
        "card_from": _("The list is from {time}."),
        "say_plain": _(
            "Say on the telephone: “Possible rabies exposure. When can we come, and do you have vaccine and immunoglobulin?”"
        ),
        "say_urgent": _(
            "Say on the telephone: “Possible rabies exposure: {facts}. When can we come, and do you have vaccine and immunoglobulin?”"
        ),
        "urgent_head": _("head, face or neck"),
        "urgent_hand": _("hand or fingers"),
        "urgent_genitals": _("genitals"),
        "urgent_several": _("several wounds"),
        "urgent_deep": _("a deep wound"),
        "urgent_bat": _("a bat"),
        "go_here": _("Go here:"),
        "open_on_arrival": _("open when you get there, until {time}"),
        "open_long": _("open when you get there"),
        "closed_until": _("closed when you get there, opens {time}"),
        "closed": _("closed when you get there"),
        "hours_unknown": _("hours not known: ring first"),
        "hours": _("hours: {hours}"),
        "distance": _("{km} km in a straight line"),
        "vaccine_yes": _("vaccine in stock"),
        "vaccine_no": _("no vaccine in stock"),
        "vaccine_unknown": _("vaccine not known: ask"),
        "immunoglobulin_yes": _("immunoglobulin in stock"),
        "immunoglobulin_no": _("no immunoglobulin in stock"),
        "immunoglobulin_unknown": _("immunoglobulin not known: ask"),
        "asked": _("Stock asked {days} days ago."),
        "never_asked": _("Nobody has asked about the stock yet: ring first."),
        "map": _("Map"),
        "emergency": _("Emergency number"),
        "emergency_unknown": _("Ring the emergency number of the country you are in."),
    }


def _crew_words() -> dict[str, str]:
    return {
        "crew": _("My crew"),
        "crew_today": _("My crew today"),
        "crew_of": _("Crew of {area}; the list leaves this phone when the day is over."),
        "crew_empty": _(
            "The list isn't on this phone. Take it along while there is network and you are signed in."
        ),
        "crew_take": _("Take my crew along"),
        "crew_again": _("Fetch the list again"),
        "crew_here": _("The list is on this phone."),
        "crew_none": _("You lead no crew today, so there is nobody to list."),
        "crew_offline": _("There is no network, or the service didn't answer. Try again later."),
        "crew_sign_in": _("Sign in first, as a crew lead; then take the list along."),
        "crew_needs_code": _("This phone has no card code yet, so the officer would have to ask who sends."),
        "sign_in": _("Sign in"),
        "wash_for": _("Wash clock"),
        "report_for": _("Report"),
        "wash_for_name": _("Start the wash clock for {name}"),
        "report_for_name": _("Report for {name}"),
        "near_miss_title": _("Nearly bitten, nobody hurt"),
        "near_miss": _("Near miss"),
        "near_miss_kept": _("Near miss kept: {task}. It goes in a minute."),
        "handled": _("Dogs handled today"),
        "handled_hint": _("Count dogs at each task; bites are reckoned per dogs handled."),
        "one_more": _("One more: {task}"),
        "one_less": _("One less: {task}"),
    }


def _phone_words() -> dict[str, str]:
    return {
        "this_phone": _("This phone"),
        "link_here": _("Reports go out under card {name}. {site}"),
        "link_missing": _(
            "No team card is on this phone yet. The clock works all the same; the code is asked for when a report goes out."
        ),
        "link_refused": _(
            "The card code on this phone isn't valid any more. Reports still arrive, and the officer asks whose they are. Ask for a new card."
        ),
        "link_locked": _(
            "The code was tried too often; the service looks at it again in a quarter of an hour. Reports still arrive."
        ),
        "enter_code": _("Enter the card code"),
        "other_code": _("Use another card"),
        "use_code": _("Use this code"),
        "code_to_send": _("Who sends this report?"),
        "code_label": _("Code of your team card"),
        "code_hint": _("34 letters and digits; hyphens and small letters don't matter."),
        "code_wrong": _(
            "This isn't a whole code: it has 34 letters and digits, without 0, 1, I, L and O. Look at the card again."
        ),
        "send_nameless": _("Send without a code"),
        "nameless_hint": _(
            "Without a code it arrives all the same, and the safety officer has to find out whose it is."
        ),
        "history_left": _(
            "A code opened as a link stays in this browser's own history until that is cleared. If the phone is lost, have the card renewed."
        ),
        "forget": _("Forget this phone"),
        "forget_what": _(
            "Takes away the card, the clinics, the crew and what isn't sent yet from drafts. Sealed reports that wait stay and go out."
        ),
        "forget_yes": _("Yes, forget all of it"),
        "forget_no": _("Keep it"),
        "forgotten": _("This phone has forgotten the card, the crew and the drafts."),
        "limits": _("What this phone can and can't do"),
        "limit_sync": _(
            "Waiting reports go by themselves when there is network, also after you leave this page; opening it again is surer."
        ),
        "limit_open": _(
            "This browser sends only while this page is open: keep it open, or open it again when there is network."
        ),
        "limit_evicted": _(
            "The browser may clear what waits when this page isn't opened for seven days: open it within that time."
        ),
        "limit_memory": _(
            "This browser lets the page keep nothing: stay on this page until the report has arrived."
        ),
        "limit_sound": _(
            "This page makes no sound and sends no notifications: look at the clock, or have it read out."
        ),
        "kept_size": _("The page is kept on this phone for use without network: {size}."),
        "update": _("A newer version of this page is ready; {size} were fetched."),
        "update_now": _("Use it now"),
    }
