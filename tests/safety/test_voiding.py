"""Voiding is one thing: once, with a reason, by one rule for each model; what is voided counts nowhere and stays readable."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from django.db import IntegrityError, connection, models, transaction
from django.test import Client

from safety.errors import Conflict, Invalid
from safety.models import WashSpell
from safety.services.phone.contents import SpellReport, Washing
from safety.services.phone.sender import Sender
from safety.services.phone.spells import spells_merge
from staff.models import AuditEntry, Voidable
from staff.models.voidable import REASON_LENGTH
from staff.services.voiding import ALREADY_VOIDED, void
from tests.factories import Team
from tests.safety.void_scenes import KINDS, Kind, Scene, make_scene, rule_of, void_rules

pytestmark = pytest.mark.django_db

ROOT = Path(__file__).parents[2]
LATER_REASON = "typed for the wrong one"


@pytest.fixture(params=KINDS, ids=str)
def kind(request: pytest.FixtureRequest) -> Kind:
    found: Kind = request.param
    return found


@pytest.fixture
def scene(team: Team, now: datetime, kind: Kind) -> Scene:
    return make_scene(team, now, kind)


def test_every_model_that_can_be_voided_has_one_rule_and_one_constraint() -> None:
    rules = Counter(rule.model for rule in void_rules())
    assert set(rules) == set(Voidable.__subclasses__()) == {kind.model for kind in KINDS}
    assert set(rules.values()) == {1}
    for model in rules:
        said = [one for one in model._meta.constraints if one.name.startswith("voided_")]
        assert len(said) == 1 and isinstance(said[0], models.CheckConstraint), model
        assert model._default_manager.name == "objects" and model._meta.base_manager_name is None


def test_it_is_voided_once_and_says_who_when_and_why(kind: Kind, scene: Scene) -> None:
    row, rule, by = kind.make(scene), rule_of(kind), scene.team.officer
    void(actor=by, row=row, reason=f"  {LATER_REASON} ", now=scene.now, rule=rule)
    assert (row.voided_by, row.voided_at, row.void_reason) == (by, scene.now, LATER_REASON)
    entry = AuditEntry.objects.get(action=rule.action)
    assert (entry.actor, entry.at, entry.detail["reason"]) == (by, scene.now, LATER_REASON)
    with pytest.raises(Conflict, match="voided already") as twice:
        void(actor=by, row=row, reason="again", now=scene.now, rule=rule)
    assert twice.value.code == ALREADY_VOIDED == "already-voided"
    assert kind.model.everything.get(pk=row.pk).void_reason == LATER_REASON
    assert AuditEntry.objects.filter(action=rule.action).count() == 1


@pytest.mark.parametrize("reason", ["", "  \n", "x" * (REASON_LENGTH + 1)])
def test_without_a_reason_or_with_more_than_is_kept_nothing_is_voided(
    reason: str, kind: Kind, scene: Scene
) -> None:
    row = kind.make(scene)
    with pytest.raises(Invalid) as refused:
        void(actor=scene.team.officer, row=row, reason=reason, now=scene.now, rule=rule_of(kind))
    assert set(refused.value.fields) == {"reason"}
    assert kind.model.objects.filter(pk=row.pk, void_reason="").exists()


def test_a_reason_of_the_full_length_is_kept_whole(kind: Kind, scene: Scene) -> None:
    reason = "y" * (REASON_LENGTH - 1) + "z"
    row = void(
        actor=scene.team.officer,
        row=kind.make(scene),
        reason=reason,
        now=scene.now,
        rule=rule_of(kind),
    )
    assert row.void_reason == reason


def test_a_voided_entry_counts_for_no_reader(kind: Kind, scene: Scene) -> None:
    before = kind.read(scene)
    row = kind.make(scene)
    assert kind.read(scene) != before
    void(actor=scene.team.officer, row=row, reason="slip", now=scene.now, rule=rule_of(kind))
    assert kind.read(scene) == before
    assert not kind.model.objects.filter(pk=row.pk).exists()
    assert kind.model.everything.filter(pk=row.pk).exists()


def test_its_page_voids_once_and_answers_409_the_second_time(kind: Kind, scene: Scene) -> None:
    row, client = kind.make(scene), Client()
    client.force_login(scene.team.officer)
    where = kind.door(scene, row)
    for reason in ("", "x" * (REASON_LENGTH + 1)):
        assert client.post(where, {"reason": reason}).status_code in (400, 422)
    assert client.post(where, {"reason": LATER_REASON}).status_code == 302
    again = client.post(where, {"reason": "again"})
    assert again.status_code == 409 and "voided already" in again.content.decode()
    assert kind.model.everything.get(pk=row.pk).void_reason == LATER_REASON
    assert LATER_REASON in client.get(kind.shown(scene)).content.decode()


HALVES = [(at, by, why) for at in (0, 1) for by in (0, 1) for why in (0, 1) if 0 < at + by + why < 3]


@pytest.mark.parametrize(("at", "by", "why"), HALVES)
def test_the_database_refuses_half_a_void(at: int, by: int, why: int, kind: Kind, scene: Scene) -> None:
    row, table = kind.make(scene), connection.ops.quote_name(kind.model._meta.db_table)
    told = [scene.now if at else None, scene.team.liaison.pk if by else None, "x" if why else ""]
    with (
        pytest.raises(IntegrityError, match=r"(?i)check"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(
            f"UPDATE {table} SET voided_at = %s, voided_by_id = %s, void_reason = %s WHERE id = %s",
            [*told, row.pk],
        )


def _writes(tree: ast.AST) -> Iterator[int]:
    """Lines that set `voided_at`: by a keyword, an attribute, a list of columns or SQL."""
    for node in ast.walk(tree):
        if isinstance(node, ast.keyword) and node.arg == "voided_at":
            yield node.value.lineno
        elif isinstance(node, ast.Attribute) and node.attr == "voided_at" and isinstance(node.ctx, ast.Store):
            yield node.lineno
        elif isinstance(node, ast.List | ast.Tuple | ast.Dict):
            inside = node.keys if isinstance(node, ast.Dict) else node.elts
            if any(isinstance(one, ast.Constant) and one.value == "voided_at" for one in inside):
                yield node.lineno
        elif isinstance(node, ast.Constant) and "SET voided_at" in str(node.value):
            yield node.lineno


def test_nothing_else_writes_that_something_is_voided() -> None:
    found = {
        f"{path.relative_to(ROOT)}"
        for package in ("staff", "safety", "config")
        for path in (ROOT / package).rglob("*.py")
        if "migrations" not in path.parts
        for _line in _writes(ast.parse(path.read_text()))
    }
    # The triggers name the columns that may still be set once a row stands.
    assert found == {"staff/services/voiding.py", "staff/guards/kept.py"}
    assert len(list(_writes(ast.parse((ROOT / "staff/services/voiding.py").read_text())))) == 1
    assert set(_writes(ast.parse("row.voided_at = now\nrows.update(voided_at=now)"))) == {1, 2}


def test_a_phone_that_says_a_voided_washing_again_brings_it_back_for_nobody(
    team: Team, now: datetime
) -> None:
    kind = next(kind for kind in KINDS if kind.model is WashSpell)
    scene = make_scene(team, now, kind)
    row = kind.make(scene)
    void(actor=team.officer, row=row, reason="another person's", now=now, rule=rule_of(kind))
    told = Washing(spells=(SpellReport(row.started_at, row.stopped_at, "yes", "yes"),))
    for _again in range(2):
        sender = Sender(person=team.person, placed_by=team.officer)
        spells_merge(incident=scene.incident, washing=told, sender=sender, newest=True, now=now)
    assert WashSpell.everything.get().running_water == "unknown" and not WashSpell.objects.exists()
