"""A phone's message in the words of the case page; what isn't known there stays as it was sent."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import tzinfo
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from safety.models import Animal, Answer, BodySite, Cause, ContactKind, Incident, Kind, Task, WashSpell, Wound
from safety.models.case.choices import AnimalSign
from safety.services.phone.reading import as_instant

_CHOICES: dict[str, Any] = {
    "kind": Kind,
    "animal": Animal,
    "task": Task,
    "causes": Cause,
    "contact": ContactKind,
    "body_site": BodySite,
    "signs": AnimalSign,
}
_INSTANTS = {"happened_at", "started_at", "stopped_at"}
_NAMES: dict[str, Any] = {
    "person": _("person"),
    "wounds": _("contact"),
    "washing": _("washing"),
    "spells": _("spell"),
    "stated_not_washed": _("not washed"),
    "place": _("place"),
    "complete": _("all answers given"),
    "collar": _("collar"),
    "signs": _("signs"),
    "can_be_watched": _("can be watched"),
    "owner_known": _("owner known"),
    "counts": _("dogs"),
    "date": _("date"),
}
for _model, _fields in (
    (Incident, "kind happened_at animal task causes narrative animal_facts others_hurt antiseptic"),
    (Wound, "contact body_site broke_skin bled deep"),
    (WashSpell, "started_at stopped_at soap running_water"),
):
    for _field in _fields.split():
        # The words of the case page.
        _NAMES[_field] = getattr(_model._meta.get_field(_field), "verbose_name", _field)


def sent_lines(
    value: Any, zone: tzinfo, people: Mapping[int, str], *, name: str = "", path: str = ""
) -> Iterator[tuple[str, str]]:
    """Every value of the message with the way to it. `people`: names the reader may know, by id."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            label = str(_NAMES.get(key, key.replace("_", " ")))
            way = f"{path}, {label}" if path else label
            yield from sent_lines(inner, zone, people, name=key, path=way)
    elif isinstance(value, list):
        for number, one in enumerate(value, 1):
            yield from sent_lines(one, zone, people, name=name, path=f"{path} {number}")
    else:
        yield path, _value(name, value, zone, people)


def _value(name: str, value: Any, zone: tzinfo, people: Mapping[int, str]) -> str:
    if value in (None, ""):
        return "–"
    if isinstance(value, bool):
        return str((Answer.YES if value else Answer.NO).label)
    if name == "person" and isinstance(value, int):
        return people.get(value, str(value))
    instant = as_instant(value) if name in _INSTANTS else None
    if instant is not None:
        return date_format(instant.astimezone(zone), "DATETIME_FORMAT")
    choices = _CHOICES.get(name, Answer)
    return str(choices(value).label) if name != "narrative" and value in choices.values else str(value)
