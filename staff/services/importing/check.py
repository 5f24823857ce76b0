"""Checking a sheet row by row and against what is on record."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from staff.models import CrewRole, Dose, Evidence, Person, Site, User
from staff.rules.importing.cells import Sheet
from staff.rules.importing.columns import Field, check_mapping
from staff.rules.importing.findings import Finding, Note, Problem
from staff.rules.importing.people import SheetDose, SheetPerson, canonical_number
from staff.rules.importing.reader import SheetParser
from staff.rules.record.series import DoseReason, evaluate_series
from staff.rules.regimen import values
from staff.selectors.importing.imports import people_by_number
from staff.selectors.record.records import every_dose_of
from staff.selectors.regimen.regimens import pre_exposure_rules
from staff.services.importing.plan import Choices, ImportPlan, PersonPlan, Progress, Steps
from staff.services.record.records import EARLIEST_DATE

ROWS_A_STEP = 250
_CONTACT = {Field.EMAIL: "email", Field.PHONE: "phone"}
_COMPARED = ("route", "product", "batch", "place")


def import_check(
    *, actor: User, site: Site, sheet: Sheet, choices: Choices, now: datetime
) -> Steps[ImportPlan]:
    """Compare `sheet` with the record of `site`; yields progress, returns the plan with every finding.

    A finding that stops leaves the plan as a preview: it is never applied. Constant number of queries.
    """
    plan = ImportPlan(findings=check_mapping(sheet.headers, choices.mapping))
    if not sheet.body:
        plan.findings.append(Finding(Problem.NO_ROWS))
    if plan.problems:
        return plan
    if site.rules.briefing_months is not None and Field.BRIEFING not in choices.mapping.values():
        plan.findings.append(Finding(Note.NO_BRIEFING_COLUMN))
    parser = SheetParser(
        mapping=choices.mapping,
        date_format=choices.date_format,
        crew_roles=_crew_role_words(),
        today=site.local_date(now),
        earliest=EARLIEST_DATE,
    )
    for done, row in enumerate(sheet.body, start=1):
        parser.take(row)
        if done % ROWS_A_STEP == 0 or done == len(sheet.body):
            yield Progress("read", done, len(sheet.body))
    parser.finish()
    plan.findings += parser.findings
    comparison = _Comparison(actor, site, choices, site.local_date(now))
    for done, person in enumerate(parser.people.values(), start=1):
        plan.people.append(comparison.of(person))
        if done % ROWS_A_STEP == 0 or done == len(parser.people):
            yield Progress("compare", done, len(parser.people))
    plan.findings += comparison.findings
    plan.findings.sort(
        key=lambda finding: (finding.row or 0, -1 if finding.column is None else finding.column)
    )
    return plan


def _crew_role_words() -> dict[str, str]:
    words = {role.label.casefold(): role.value for role in CrewRole}
    return words | {role.value: role.value for role in CrewRole}


class _Comparison:
    """The record of one site beside the people of a sheet."""

    def __init__(self, actor: User, site: Site, choices: Choices, today: date) -> None:
        self.findings: list[Finding] = []
        self._actor = actor
        self._choices = choices
        self._today = today
        self._regimens = pre_exposure_rules(site)
        self._people = people_by_number(site)
        self._by_canonical = {canonical_number(number): number for number in self._people}
        self._by_name: dict[str, set[str]] = defaultdict(set)
        for person in self._people.values():
            self._by_name[person.name.casefold()].add(person.number)

    def of(self, sheet: SheetPerson) -> PersonPlan:
        person = self._people.get(sheet.number)
        plan = PersonPlan(sheet, person)
        self._check_identity(sheet, person)
        self._plan_contact(plan)
        roles = {role.role for role in person.crew_roles.all()} if person else set()
        plan.new_roles = [role for role in sheet.crew_roles if role not in roles]
        self._plan_doses(plan)
        briefed = {briefing.held_on for briefing in person.briefings.all()} if person else set()
        plan.new_briefings = sorted(sheet.briefings - briefed)
        plan.unchanged_briefings = len(sheet.briefings & briefed)
        self._check_own(plan)
        return plan

    def _add(self, code: Problem | Note, row: int, name: Field | int, **params: str | int | date) -> None:
        columns = {mapped: column for column, mapped in self._choices.mapping.items()}
        column = name if isinstance(name, int) else columns.get(name, columns[Field.NUMBER])
        self.findings.append(Finding(code, row, column, params))

    def _check_identity(self, sheet: SheetPerson, person: Person | None) -> None:
        on_record = self._by_canonical.get(canonical_number(sheet.number), sheet.number)
        if person is None and on_record != sheet.number:
            self._add(Problem.NUMBER_VARIANT, sheet.row, Field.NUMBER, number=sheet.number, other=on_record)
        if person is None and not sheet.name and Field.NAME not in sheet.unreadable:
            self._add(Problem.NAME_MISSING, sheet.row, Field.NAME, number=sheet.number)
        if person and sheet.name and sheet.name != person.name:
            self._add(Note.NAME_DIFFERS, sheet.row, Field.NAME, text=sheet.name, kept=person.name)
        if person is None and sheet.name:
            self._check_same_name(sheet)

    def _check_own(self, plan: PersonPlan) -> None:
        """Nobody clears themself by a list either: see staff.services.record.own_record."""
        own = plan.person is not None and plan.person.user_id == self._actor.pk
        proven = plan.new_doses and self._choices.evidence != Evidence.NONE
        if own and (proven or plan.new_briefings):
            self._add(Problem.OWN_RECORD, plan.sheet.row, Field.NUMBER)

    def _check_same_name(self, sheet: SheetPerson) -> None:
        numbers = self._by_name[sheet.name.casefold()]
        if others := sorted(numbers - {sheet.number}):
            self._add(Note.SAME_NAME, sheet.row, Field.NAME, text=sheet.name, other=others[0])
        numbers.add(sheet.number)

    def _plan_contact(self, plan: PersonPlan) -> None:
        for name, attribute in _CONTACT.items():
            text = plan.sheet.texts.get(name, "")
            if name is Field.EMAIL and text and not _is_email(text):
                self._add(Problem.EMAIL, plan.sheet.row, Field.EMAIL, text=text)
            elif plan.person and text and text != getattr(plan.person, attribute):
                plan.changes[attribute] = text

    def _plan_doses(self, plan: PersonPlan) -> None:
        on_record = list(every_dose_of(plan.person)) if plan.person else []
        standing = {dose.given_on: dose for dose in on_record if dose.voided_at is None}
        voided = {dose.given_on for dose in on_record} - set(standing)
        for dose in plan.sheet.doses:
            if dose.day in standing:
                plan.unchanged_doses += 1
                self._note_difference(dose, standing[dose.day])
            elif dose.day in voided:
                self._add(Note.DOSE_VOIDED, dose.row, dose.column, day=dose.day)
            else:
                plan.new_doses.append(dose)
        self._note_early(plan, list(standing.values()))

    def _note_difference(self, dose: SheetDose, kept: Dose) -> None:
        details = any(getattr(dose, name) not in ("", getattr(kept, name)) for name in _COMPARED)
        evidence = kept.evidence == Evidence.NONE and self._choices.evidence not in ("", Evidence.NONE)
        if details or evidence:
            self._add(Note.DOSE_DIFFERS, dose.row, dose.column, day=dose.day)

    def _note_early(self, plan: PersonPlan, standing: list[Dose]) -> None:
        """Name the new doses that no approved regimen would count because they came too early."""
        new = {dose.day: dose for dose in plan.new_doses}
        if not new or not self._regimens:
            return
        facts = [replace(dose.as_fact(), verified=True) for dose in standing]
        facts += [
            values.DoseFact(given_on=day, route=values.Route(dose.route) if dose.route else None)
            for day, dose in new.items()
        ]
        early = [
            {
                result.dose.given_on: result.days
                for result in judged.doses
                if result.reason is DoseReason.TOO_EARLY
            }
            for judged in (
                evaluate_series(regimen=regimen, doses=facts, on=self._today) for regimen in self._regimens
            )
        ]
        for day in sorted(set.intersection(*map(set, early)) & set(new)):
            fewest = min(days[day] or 0 for days in early)
            self._add(Note.TOO_EARLY, new[day].row, new[day].column, day=day, days=fewest)


def _is_email(text: str) -> bool:
    try:
        validate_email(text)
    except ValidationError:
        return False
    return True
