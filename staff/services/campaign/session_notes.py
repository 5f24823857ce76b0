"""What is said of each person after a session, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid, NotAllowed, Refused
from staff.models import Person, Session, SessionPlace
from staff.services.record.own_record import OWN_RECORD

Outcome = SessionPlace.Outcome
RECORDABLE = (Outcome.EXPECTED, Outcome.GIVEN, Outcome.ABSENT, Outcome.REFUSED)


@dataclass(frozen=True)
class Note:
    """What became of one person. `row` is the caller's name for it: refusals are filed under "row-field".

    `given_on` None is the session's day. `planned` False: somebody who came without being on the list.
    """

    row: str
    person_id: int
    outcome: str
    given_on: date | None = None
    product: str = ""
    batch: str = ""
    reason: str = ""
    planned: bool = True


@dataclass
class Faults:
    """Everything that is wrong with a list, gathered before anything of it is refused."""

    fields: dict[str, str] = field(default_factory=dict)
    words: list[str] = field(default_factory=list)
    conflict: bool = False
    own: bool = False

    def add(self, note: Note, person: Person | None, refused: Refused) -> None:
        name = _("Row %(row)s") % {"row": note.row}
        if person is not None:
            name = f"{person.name} ({person.number})"
        self.conflict = self.conflict or isinstance(refused, Conflict)
        self.own = self.own or refused.code == OWN_RECORD
        for named, words in (refused.fields or {"outcome": refused.message}).items():
            # A planned row has no number to mend, a row for somebody who came unplanned no outcome.
            about_row = "outcome" if note.planned else "number"
            one = about_row if named in ("outcome", "number", "evidence") else named
            if refused.code == "dose-on-record" and note.planned:
                words += " " + _("If it is right, choose “not noted yet” in this row.")
            self.fields[f"{note.row}-{one}"] = words
            self.words.append(f"{name}: {words}")

    def settle(self) -> None:
        """Raises when anything is wrong, so that the whole list is undone."""
        if self.conflict:
            raise Conflict(" ".join(self.words), code="session-conflict", fields=self.fields)
        if self.own:
            raise NotAllowed(" ".join(self.words), code=OWN_RECORD, fields=self.fields)
        if self.fields:
            raise Invalid(self.fields, " ".join(self.words))


@dataclass(frozen=True)
class Table:
    """The session with the people of its site and its places, by person, all of them locked."""

    session: Session
    people: Mapping[int, Person]
    places: Mapping[int, SessionPlace]


def fault_of(note: Note, table: Table) -> Refused | None:
    """What is wrong with a note as the list stands, or None; the dose itself is judged by `dose_record`."""
    person, place = table.people.get(note.person_id), table.places.get(note.person_id)
    session = table.session
    if note.outcome not in RECORDABLE:
        return Invalid({"outcome": _("Say for each person: given, didn't come, or not given.")})
    if person is None:
        return Invalid({"number": _("Choose somebody of this site.")})
    if place is not None and place.outcome == Outcome.GIVEN:
        return None if says_the_same(note, place, session) else _given_already(place)
    listed = place is not None and place.outcome != Outcome.MOVED
    if note.planned and not listed:
        return Invalid(
            {"outcome": _("This person isn't on the list any more. Whoever came all the same goes below.")}
        )
    if listed and not note.planned:
        return Invalid({"number": _("This person is on the list; note the dose in that row.")})
    return _unsaid(note, session)


def _unsaid(note: Note, session: Session) -> Refused | None:
    if note.outcome == Outcome.REFUSED and not note.reason.strip():
        return Invalid({"reason": _("Say in a few words why the dose wasn't given; no diagnosis is needed.")})
    if note.outcome == Outcome.GIVEN and note.given_on is not None and note.given_on < session.held_on:
        return Invalid(
            {
                "given_on": _(
                    "%(date)s lies before the session; a dose of another day goes on the person's own page."
                )
                % {"date": date_format(note.given_on)}
            }
        )
    return None


def says_the_same(note: Note, place: SessionPlace, session: Session) -> bool:
    dose = place.dose
    return (
        dose is not None
        and dose.voided_at is None
        and note.outcome == Outcome.GIVEN
        and (note.given_on or session.held_on, note.product, note.batch)
        == (dose.given_on, dose.product, dose.batch)
    )


def _given_already(place: SessionPlace) -> Conflict:
    dose = place.dose
    assert dose is not None
    if dose.voided_at is not None:
        message = _("The dose noted here was voided since; enter the right one on the person's own page.")
        return Conflict(message, fields={"outcome": message})
    message = _(
        "A dose of %(date)s (product: %(product)s, batch: %(batch)s) is on record for this list already. "
        "If it is wrong, void it on the person's own page and enter the right one there."
    ) % {
        "date": date_format(dose.given_on),
        "product": dose.product or _("not stated"),
        "batch": dose.batch or _("not stated"),
    }
    return Conflict(message, fields={"outcome": message})
