"""Words of the phone's page around a report: clinics, the crew, the phone itself."""

from __future__ import annotations

from django.utils.translation import gettext as _


def clinic_words() -> dict[str, str]:
    return {
        "clinics": _("Clinics"),
        "no_card": _(
            "This phone has no list of clinics yet: enter the code of your team card while there is network."
        ),
        "from_here": _("Distances are from where this phone was asked."),
        "distance_unknown": _("Distances aren't known: the phone wasn't asked where it is."),
        "use_place": _("Use where I am"),
        "ask_record": _("Is whoever was hurt immunised against rabies, with all doses on record?"),
        "known_immunised": _("yes"),
        "known_not-immunised": _("no"),
        "known_immunocompromised": _("weak immune system"),
        "known_unknown": _("don't know"),
        "card_from": _("The list is from {time}."),
        "say_plain": _(
            "Say on the telephone: “Possible rabies exposure. When can we come, and do you have vaccine and immunoglobulin?”"
        ),
        "say_urgent": _(
            "Say on the telephone: “Possible rabies exposure: {facts}. When can we come, and do you have vaccine and immunoglobulin?”"
        ),
        "urgent_head-face-neck": _("head, face or neck"),
        "urgent_hands": _("hand or fingers"),
        "urgent_genitals": _("genitals"),
        "urgent_several": _("several wounds"),
        "urgent_deep": _("a deep wound"),
        "urgent_bat": _("a bat"),
        "go_here": _("Go here:"),
        "hours": _("hours: {hours}"),
        "map": _("Map"),
        "emergency": _("Emergency number"),
        "emergency_unknown": _("Ring the emergency number of the country you are in."),
    }


def crew_words() -> dict[str, str]:
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


def device_words() -> dict[str, str]:
    return {
        "this_phone": _("This phone"),
        "link_here": _("Reports go out under card {name}. {site}"),
        "link_missing": _(
            "No team card is on this phone yet. The clock works all the same; the code is asked for when a report goes out."
        ),
        "lend_ask": _(
            "This was begun before card {name} was on this phone, so nobody knows yet whose it is. Send word of it under this card?"
        ),
        "lend": _("Send word under this card"),
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
        "unreadable": _(
            "Something kept on this phone can't be read any more. Look whether your card is here, and whether a report you began is whole; what is sealed goes out."
        ),
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
        "store_full": _(
            "This phone's storage is full: the clock runs and the report goes out, but only while this page stays open."
        ),
        "limit_sound": _(
            "This page makes no sound and sends no notifications: look at the clock, or have it read out."
        ),
        "kept_size": _("The page is kept on this phone for use without network: {size}."),
        "update": _("A newer version of this page is ready; {size} were fetched."),
        "update_now": _("Use it now"),
    }
