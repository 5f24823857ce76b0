"""The answers a report may give, in words of the trade."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.rules.case import category as rule


class Answer(models.TextChoices):
    YES = rule.Answer.YES.value, _("yes")
    NO = rule.Answer.NO.value, _("no")
    UNKNOWN = rule.Answer.UNKNOWN.value, _("don't know")


class Kind(models.TextChoices):
    BITE = "bite", _("bite")
    SCRATCH = "scratch", _("scratch")
    LICK = "lick", _("lick")
    SPLASH = "splash", _("saliva in eye, nose or mouth")
    NEEDLESTICK = "needlestick", _("needlestick")
    NEAR_MISS = "near-miss", _("near miss")
    ROAD = "road", _("road incident")
    OTHER = "other", _("something else")


class Task(models.TextChoices):
    APPROACHING = "approaching", _("approaching the dog")
    NETTING = "netting", _("netting")
    HOLDING = "holding", _("holding")
    INJECTING = "injecting", _("injecting")
    COLLARING = "collaring", _("collaring")
    RELEASING = "releasing", _("releasing")
    HELD_BY_OWNER = "held-by-owner", _("dog held by its owner")
    TRAVELLING = "travelling", _("travelling")
    OTHER = "other", _("something else")
    UNKNOWN = "unknown", _("don't know")


class Cause(models.TextChoices):
    DISTRACTED = "distracted", _("distracted")
    HAND_NEAR_MOUTH = "hand-near-mouth", _("hand near the mouth")
    BARE_HANDS = "bare-hands", _("bare hands")
    HEAD_OUT_OF_NET = "head-out-of-net", _("dog's head out of the net")
    ROUGH_HANDLING = "rough-handling", _("handled in a way that hurt or frightened the dog")
    KIT_FAILED = "kit-failed", _("kit failed")
    OWNER_LOST_HOLD = "owner-lost-hold", _("owner lost hold")
    TRAFFIC = "traffic", _("traffic")
    UNKNOWN = "unknown", _("don't know")


class Animal(models.TextChoices):
    DOG_OWNED = "dog-owned", _("dog with an owner")
    DOG_ROAMING = "dog-roaming", _("roaming dog")
    CAT = "cat", _("cat")
    BAT = "bat", _("bat")
    OTHER = "other", _("other animal")
    UNKNOWN = "unknown", _("don't know")


class BodySite(models.TextChoices):
    HEAD_FACE_NECK = "head-face-neck", _("head, face or neck")
    HAND = "hand", _("hand or fingers")
    ARM = "arm", _("arm")
    TRUNK = "trunk", _("chest, belly or back")
    GENITALS = "genitals", _("genitals")
    LEG = "leg", _("leg")
    FOOT = "foot", _("foot")
    UNKNOWN = "unknown", _("don't know")


class ContactKind(models.TextChoices):
    """The contact, in the words of the exposure table (WHO 2018, read in a secondary copy)."""

    BITTEN = rule.ContactKind.BITTEN.value, _("bitten")
    SCRATCHED = rule.ContactKind.SCRATCHED.value, _("scratched")
    NIBBLED = rule.ContactKind.NIBBLED_UNCOVERED_SKIN.value, _("nibbled on uncovered skin")
    LICKED_BROKEN = rule.ContactKind.LICKED_BROKEN_SKIN.value, _("licked on broken skin")
    LICKED_INTACT = rule.ContactKind.LICKED_INTACT_SKIN.value, _("licked on unbroken skin")
    SPLASHED = rule.ContactKind.SPLASHED_EYE_NOSE_MOUTH.value, _("saliva in eye, nose or mouth")
    TOUCHED = rule.ContactKind.TOUCHED.value, _("touched or fed only")
    NEEDLESTICK = rule.ContactKind.NEEDLESTICK.value, _("stuck by a needle")
    NONE = rule.ContactKind.NONE.value, _("no contact")
    UNKNOWN = rule.ContactKind.UNKNOWN.value, _("don't know")


class AnimalSign(models.TextChoices):
    """What somebody may have seen of the animal; any of it, or none, is told to the clinician as said."""

    UNPROVOKED = "unprovoked", _("bit without being provoked")
    STRANGE = "strange", _("behaved strangely")
    WEAK = "weak", _("staggered, weak or lame")
    DROOLING = "drooling", _("drooled or couldn't swallow")
    VOICE = "voice", _("changed voice")
    ILL_OR_DEAD = "ill-or-dead", _("ill, or dead since")
    NONE_SEEN = "none-seen", _("nothing unusual")
    UNKNOWN = "unknown", _("don't know")


def no_animal_facts() -> dict[str, Any]:
    """Nothing said of the animal: every answer is "don't know"."""
    return {"collar": "unknown", "signs": [], "can_be_watched": "unknown", "owner_known": "unknown"}
