"""An outing's details as every page, print and phone shows them: a label, the words and where they lead."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.utils.formats import time_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from staff.models import Outing
from staff.rules.outing.outing_details import DETAILS


@dataclass(frozen=True)
class DetailRow:
    """`href` is empty, a geo: link (RFC 5870) or a tel: link (RFC 3966)."""

    label: str
    words: str
    href: str = ""


def detail_rows(outing: Outing) -> list[DetailRow]:
    """What is known, in the order of `OutingDetails`."""
    rows = (_ROWS.get(name, _plain)(outing, name) for name in DETAILS)
    return [row for row in rows if row is not None]


def start_words(outing: Outing) -> str:
    """The start by the site's clocks, empty without one; moved to a day on which they leave it out, the time they show then."""
    starts_at = outing.starts_at
    return time_format(starts_at.astimezone(outing.site.zone).time(), "TIME_FORMAT") if starts_at else ""


def _plain(outing: Outing, name: str) -> DetailRow | None:
    words = str(getattr(outing, name) or "")
    label = capfirst(str(Outing._meta.get_field(name).verbose_name))  # type: ignore[union-attr]
    return DetailRow(label, words) if words else None


def _start(outing: Outing, _name: str) -> DetailRow | None:
    words = start_words(outing)
    return DetailRow(capfirst(_("start time")), words) if words else None


def _position(outing: Outing, _name: str) -> DetailRow | None:
    if outing.meeting_latitude is None or outing.meeting_longitude is None:
        return None
    place = f"{outing.meeting_latitude:.5f},{outing.meeting_longitude:.5f}"
    return DetailRow(_("Position"), place.replace(",", ", "), f"geo:{place}")


def _phone(outing: Outing, name: str) -> DetailRow | None:
    row = _plain(outing, name)
    if row is None:
        return None
    # Common practice, no source: a dialled number has digits and at most a plus in front.
    number = "".join(sign for sign in row.words if sign.isdecimal() or sign == "+")
    return DetailRow(row.label, row.words, f"tel:{number}" if number else "")


_ROWS: dict[str, Callable[[Outing, str], DetailRow | None]] = {
    "start_time": _start,
    "meeting_latitude": _position,
    "meeting_longitude": lambda _outing, _name: None,
    "day_phone": _phone,
}
