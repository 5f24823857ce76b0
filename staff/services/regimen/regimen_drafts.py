"""Drafting a version of a regimen: copy, edit, submit, send back, retire. A listed version never changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid
from staff.ground.transactions import retried
from staff.models import Regimen, RegimenEdit, RegimenStep, User
from staff.rules.regimen.regimen_check import regimen_faults
from staff.rules.regimen.regimen_states import RegimenState
from staff.rules.regimen.values import Step
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason
from staff.services.regimen.regimen_moves import (
    need_drafted_near,
    need_officer,
    need_retiring,
    need_state,
    regimen_born,
    regimen_lock,
    regimen_move,
)
from staff.services.regimen.regimen_words import fault_words

# Fits the column of the version and of the days, on both engines.
HIGHEST = 32767


@dataclass(frozen=True)
class RegimenFacts:
    """What a version says, but for its code and number."""

    name: str
    purpose: str
    routes: tuple[str, ...]
    for_whom: str
    source: str
    source_kind: str
    steps: tuple[Step, ...]

    @classmethod
    def of(cls, regimen: Regimen) -> RegimenFacts:
        steps = sorted((step.as_rule() for step in regimen.steps.all()), key=lambda step: step.number)
        return cls(
            name=regimen.name,
            purpose=regimen.purpose,
            routes=tuple(regimen.routes),
            for_whom=regimen.for_whom,
            source=regimen.source,
            source_kind=regimen.source_kind,
            steps=tuple(steps),
        )


def regimen_draft(
    *, actor: User | None, code: str, version: int, facts: RegimenFacts, now: datetime, why: str
) -> Regimen:
    """Write a new version as a draft; `actor` is None only for what comes with the program."""
    with transaction.atomic():
        regimen = Regimen.objects.create(
            code=code, version=version, drafted_by=actor, changed_by=actor, **_columns(facts)
        )
        _steps_write(regimen, facts.steps)
        regimen_born(actor=actor, regimen=regimen, now=now, why=why)
        audit_write(actor=actor, action="regimen.drafted", now=now, target=regimen.target)
    return regimen


def _columns(facts: RegimenFacts) -> dict[str, object]:
    row = {name: value for name, value in vars(facts).items() if name != "steps"}
    return row | {"routes": list(facts.routes)}


def _steps_write(regimen: Regimen, steps: Sequence[Step]) -> None:
    RegimenStep.objects.bulk_create(RegimenStep(regimen=regimen, **asdict(step)) for step in steps)


@retried
def regimen_start(*, actor: User, code: str, facts: RegimenFacts, now: datetime) -> Regimen:
    """A first version from nothing, under a code that is new; what it says can be edited until it is submitted."""
    need_officer(actor)
    _refuse_windows(facts)
    if Regimen.objects.filter(code=code).exists():
        raise _code_taken(code)
    try:
        return regimen_draft(
            actor=actor, code=code, version=1, facts=facts, now=now, why=_("begun from nothing")
        )
    except IntegrityError as error:
        # Somebody took the code at the same moment; the unique key let one of the two through.
        raise _code_taken(code) from error


def _code_taken(code: str) -> Conflict:
    message = _("There is a regimen “%(code)s” already; choose a code that is new.") % {"code": code}
    return Conflict(message, code="code-taken", fields={"code": message})


@retried
def regimen_copy(*, actor: User, regimen: Regimen, code: str, now: datetime) -> Regimen:
    """A draft with the same steps: the next version of its code, or the first of a code that is new."""
    need_officer(actor)
    with transaction.atomic():
        # Locked, so that two who copy the same version get two numbers.
        source = regimen_lock(regimen)
        newest = Regimen.objects.filter(code=code).aggregate(newest=Max("version"))["newest"] or 0
        if newest and code != source.code:
            raise _code_taken(code)
        if newest >= HIGHEST:
            raise Invalid({"code": _("No further version of this code fits; choose a new code.")})
        return regimen_draft(
            actor=actor,
            code=code,
            version=newest + 1,
            facts=RegimenFacts.of(source),
            now=now,
            why=_("copied from %(regimen)s") % {"regimen": f"{source.code} v{source.version}"},
        )


@retried
def regimen_edit(*, actor: User, regimen: Regimen, facts: RegimenFacts, now: datetime) -> Regimen:
    """Replace what a draft says; steps may still contradict each other, submitting refuses that."""
    need_officer(actor)
    _refuse_windows(facts)
    with transaction.atomic():
        locked = regimen_lock(regimen)
        need_state(locked, RegimenState.DRAFT)
        need_drafted_near(actor, locked)
        old = RegimenFacts.of(locked)
        for name, value in _columns(facts).items():
            setattr(locked, name, value)
        locked.changed_by = actor
        locked.save(update_fields=[*_columns(facts), "changed_by"])
        locked.steps.all().delete()
        _steps_write(locked, facts.steps)
        RegimenEdit.objects.create(regimen=locked, by=actor, at=now)
        audit_write(
            actor=actor,
            action="regimen.edited",
            now=now,
            target=locked.target,
            old=asdict(old),
            new=asdict(facts),
        )
    return locked


def _refuse_windows(facts: RegimenFacts) -> None:
    """What no draft can hold: a step that ends before it begins, a figure that is none."""
    windows = {
        str(step.number): fault_words(fault)
        for fault in regimen_faults(routes=facts.routes, steps=facts.steps)
        if fault.code in ("before-its-day", "negative", "none", "not-in-order")
        for step in [facts.steps[fault.step - 1]]
    }
    if windows:
        raise Invalid({"steps": " ".join(windows.values())})


@retried
def regimen_submit(*, actor: User, regimen: Regimen, why: str = "", now: datetime) -> None:
    """Ask for approval; refused while the steps contradict each other, naming each step and field."""
    need_officer(actor)
    with transaction.atomic():
        locked = regimen_lock(regimen)
        need_state(locked, RegimenState.DRAFT)
        need_drafted_near(actor, locked)
        refuse_faults(RegimenFacts.of(locked))
        regimen_move(actor=actor, regimen=locked, to=RegimenState.SUBMITTED, now=now, why=why)


def refuse_faults(facts: RegimenFacts) -> None:
    """Raise Invalid with a sentence for each fault of the steps, and for a source that isn't named."""
    fields: dict[str, str] = {}
    for fault in regimen_faults(routes=facts.routes, steps=facts.steps):
        key = f"steps.{fault.step}.{fault.field}" if fault.step else fault.field
        fields[key] = f"{fields[key]} {fault_words(fault)}" if key in fields else fault_words(fault)
    for name, value in (("name", facts.name), ("source", facts.source)):
        if not value.strip():
            fields[name] = _("Needed before anybody can approve it.")
    if fields:
        raise Invalid(fields)


@retried
def regimen_send_back(*, actor: User, regimen: Regimen, why: str, now: datetime) -> None:
    """Make a submitted version a draft again, saying what to mend."""
    need_officer(actor)
    why = need_reason(why, field="why")
    with transaction.atomic():
        locked = regimen_lock(regimen)
        need_state(locked, RegimenState.SUBMITTED)
        regimen_move(actor=actor, regimen=locked, to=RegimenState.DRAFT, now=now, why=why)


@retried
def regimen_retire(*, actor: User, regimen: Regimen, why: str, now: datetime) -> None:
    """Take a version out of what is offered; refused while a site's approval of it stands, and to officers of
    sites it was never a matter of. Courses on it go on and nobody's clearance changes."""
    need_retiring(actor, regimen)
    why = need_reason(why, field="why")
    with transaction.atomic():
        locked = regimen_lock(regimen)
        standing = locked.approvals.filter(withdrawn_at__isnull=True).select_related("site")
        if standing:
            raise Conflict(
                _("%(regimen)s is approved at %(sites)s; have that approval withdrawn first.")
                % {"regimen": locked, "sites": ", ".join(sorted(one.site.name for one in standing))},
                code="regimen-approved",
            )
        regimen_move(actor=actor, regimen=locked, to=RegimenState.RETIRED, now=now, why=why)
