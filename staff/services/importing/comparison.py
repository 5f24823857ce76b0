"""The people of a sheet beside the record of their site: what is new, what is known, what differs."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from staff.models import Dose, Evidence, Person, Site, User
from staff.rules.importing.columns import Field
from staff.rules.importing.findings import Finding, Note, Problem
from staff.rules.importing.people import SheetDose, SheetPerson, canonical_number
from staff.rules.record.series import DoseReason, evaluate_series
from staff.rules.regimen import values
from staff.selectors.importing.imports import people_by_number
from staff.selectors.record.records import every_dose_of
from staff.selectors.regimen.regimens import pre_exposure_rules
from staff.services.importing.plan import Choices, PersonPlan

_CONTACT = {Field.EMAIL: "email", Field.PHONE: "phone"}


_COMPARED = ("route", "product", "batch", "place")


class Comparison:
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
