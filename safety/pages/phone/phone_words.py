"""The words of the phone's page, as data for its scripts: one source, in the reader's language."""

from __future__ import annotations

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from safety.pages.clinic.clinic_words import clinic_catalogue
from safety.pages.phone.phone_words_around import clinic_words, crew_words, device_words
from safety.words import caution_words


def phone_words() -> dict[str, str]:
    return (
        _clock_words()
        | _question_words()
        | _sending_words()
        | clinic_words()
        | clinic_catalogue(get_language() or "")
        | crew_words()
        | device_words()
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
        "ran_on": _("The clock has run for {time}. How long was the washing?"),
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
        "caution": caution_words(),
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
        "waits_busy": _(
            "It waits; the service was busy, out of order or not reached (code {code}) and is asked again."
        ),
        "has_reference": _("It has arrived; the reference is {reference}."),
        "has_arrived": _("It has arrived; the safety officer looks whose it is."),
        "refused": _(
            "The service didn't take it (code {code}). {message} Nothing is lost: it stays sealed on this "
            "phone. Try again, and tell your safety officer."
        ),
        "part_alarm": _("word that washing began"),
        "part_wash": _("times of washing"),
        "part_draft": _("a report that isn't finished"),
        "part_handled": _("dogs handled"),
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
