"""What somebody's record says about immunisation as of a date."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from staff.models import Person
from staff.rules.record.immunity import find_completions, qualifying_regimens
from staff.rules.record.reasons import Reason
from staff.rules.regimen.values import DoseFact
from staff.selectors.record.records import RegimenBook, facts_of


@dataclass(frozen=True)
class Immunisation:
    """`complete_on`: since when the record is a complete series; `doses`: those that stand, before the date.

    `lapses`: by what that series has lapsed on the date, as clearance judges it by the site's own rule.
    """

    complete_on: date | None
    doses: tuple[DoseFact, ...]
    immunocompromised: bool
    lapses: tuple[Reason, ...] = ()


def immunisation_before(person: Person, day: date) -> Immunisation:
    """The record as it stood before `day`, read by the site's rules as clearance reads it."""
    book, rules = RegimenBook.for_sites([person.site]), person.site.rules.for_clearance()
    facts = facts_of(person)
    facts = replace(
        facts,
        doses=tuple(dose for dose in facts.doses if dose.given_on < day),
        titres=tuple(titre for titre in facts.titres if titre.taken_on < day),
    )
    completions = find_completions(
        doses=facts.doses,
        qualifying=qualifying_regimens(book.pre_exposure[person.site_id], rules.doses_required),
        post_exposure=book.post_exposure,
        rules=rules,
    )
    complete_on = completions[0].complete_on if completions else None
    complete = complete_on is not None and complete_on < day
    return Immunisation(
        complete_on=complete_on if complete else None,
        doses=tuple(dose for dose in facts.doses if dose.stands),
        immunocompromised=facts.immunocompromised,
        lapses=book.judge(person, facts).lapses_on(day) if complete else (),
    )
