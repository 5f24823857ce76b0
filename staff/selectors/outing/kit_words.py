"""The items of a kit in the reader's language, and why there are so many of each."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from staff.rules.outing.kit import Item, KitRules, Line, Unit, webbing_metres

_NAMES = {
    Item.VACCINE: gettext_lazy("Vaccine"),
    Item.NEEDLES: gettext_lazy("Needles"),
    Item.SYRINGES: gettext_lazy("Syringes"),
    Item.SHARPS_BOX: gettext_lazy("Sharps box"),
    Item.COLLARS: gettext_lazy("Collars"),
    Item.PUPPY_MARKS: gettext_lazy("Colour marks for puppies"),
    Item.FORCEPS: gettext_lazy("Long forceps"),
    Item.WATER: gettext_lazy("Water for washing wounds"),
    Item.SOAP: gettext_lazy("Soap"),
    Item.ANTISEPTIC: gettext_lazy("Antiseptic"),
    Item.FIRST_AID: gettext_lazy("First-aid kit"),
    Item.HELMETS: gettext_lazy("Helmets"),
}


def item_words(item: Item) -> str:
    return str(_NAMES[item])


def count_words(line: Line) -> str:
    """How many are carried, with the unit where it isn't pieces."""
    if line.unit is Unit.DOSES:
        return ngettext("%(number)d dose", "%(number)d doses", line.count) % {"number": line.count}
    if line.unit is Unit.LITRES:
        return ngettext("%(number)d litre", "%(number)d litres", line.count) % {"number": line.count}
    return str(line.count)


def reason_of(line: Line, rules: KitRules) -> str:
    """Why so many: what the work needs, and what comes on top."""
    figures = {
        "need": line.need,
        "spare": rules.spare_percent,
        "uses": rules.syringe_uses,
        "metres": webbing_metres(line.count),
        "washes": rules.washes_carried,
        "minutes": rules.wash_minutes,
        "flow": rules.wash_flow_ml,
    }
    return _reasons()[line.item] % figures


def _reasons() -> dict[Item, str]:
    return {
        Item.VACCINE: _("%(need)d for the dogs expected, and %(spare)d %% to spare"),
        Item.NEEDLES: _("%(need)d, a new one for every injection, and %(spare)d %% to spare"),
        Item.SYRINGES: _(
            "%(need)d, at most %(uses)d injections with each while it is clean, and enough for the spare doses"
        ),
        Item.SHARPS_BOX: _("needles go into it at once, never back into their caps"),
        Item.COLLARS: _(
            "%(need)d for the adult dogs, none for puppies, and %(spare)d %% to spare; to cut them: %(metres)d m "
            "of webbing"
        ),
        Item.PUPPY_MARKS: _("%(need)d, a harmless colour instead of a collar, and %(spare)d %% to spare"),
        Item.FORCEPS: _("to pass a collar through the net"),
        Item.WATER: _("washes: %(washes)d, of %(minutes)d minutes at %(flow)d mL a minute"),
        Item.SOAP: _("for washing wounds"),
        Item.ANTISEPTIC: _("iodine or the like, after washing"),
        Item.FIRST_AID: _("complete and within its dates"),
        Item.HELMETS: _("one for everybody who rides"),
    }
