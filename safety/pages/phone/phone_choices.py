"""The answers the phone's questions offer: those of the models, and taps that say two things at once."""

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
