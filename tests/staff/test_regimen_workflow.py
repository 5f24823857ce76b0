"""A version of a regimen from draft to retirement: two people, and nothing in use ever changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.models import AuditEntry, Regimen, RegimenApproval, RegimenMove, User
from staff.selectors.record.readiness import clearance_on
from staff.selectors.regimen.regimens import approved_at, post_exposure_rules, regimens_known
from staff.services.record.recompute import recompute_catch_up
from staff.services.regimen.approvals import regimen_withdraw
from staff.services.regimen.regimen_drafts import (
    RegimenFacts,
    regimen_copy,
    regimen_edit,
    regimen_retire,
    regimen_send_back,
    regimen_start,
    regimen_submit,
)
from tests.factories import PRE_EXPOSURE, Team, give_doses
from tests.staff.regimen_scenes import approve_by, draft_of, second_officer, submitted_of


def _standing(team: Team, code: str = PRE_EXPOSURE) -> RegimenApproval:
    return RegimenApproval.objects.get(site=team.site, regimen__code=code, withdrawn_at__isnull=True)


def test_what_comes_with_the_program_is_listed_drafted_by_nobody_and_approved_nowhere(team: Team) -> None:
    row = Regimen.objects.get(code="prep-im-0-7")
    assert (row.state, row.drafted_by, row.approvals.count()) == ("listed", None, 0)
    assert [(move.old, move.new, move.by) for move in row.moves.all()] == [
        ("", "draft", None),
        ("draft", "listed", None),
    ]


def test_a_copy_is_a_draft_of_the_next_version_with_the_same_steps(team: Team, now: datetime) -> None:
    draft, first = draft_of(team, now), Regimen.objects.get(code=PRE_EXPOSURE, version=1)
    assert (draft.version, draft.state, draft.drafted_by) == (2, "draft", team.officer)
    assert RegimenFacts.of(draft) == RegimenFacts.of(first)
    assert draft_of(team, now).version == 3


def test_a_copy_may_take_a_new_code_but_not_that_of_another_regimen(team: Team, now: datetime) -> None:
    first = Regimen.objects.get(code=PRE_EXPOSURE, version=1)
    made = regimen_copy(actor=team.officer, regimen=first, code="ours", now=now)
    assert (made.code, made.version) == ("ours", 1)
    with pytest.raises(Conflict, match="choose a code that is new"):
        regimen_copy(actor=team.officer, regimen=first, code="prep-im-0-7", now=now)


def test_the_whole_way_leaves_a_row_for_each_move_with_who_and_when(team: Team, now: datetime) -> None:
    submitted = submitted_of(team, now)
    second = second_officer(team)
    regimen_send_back(actor=second, regimen=submitted, why="day 21 or 28?", now=now)
    regimen_submit(actor=team.officer, regimen=submitted, now=now)
    approval = approve_by(second, team, submitted, now)
    regimen_withdraw(actor=second, approval=approval, why="recalled", now=now)
    regimen_retire(actor=team.officer, regimen=submitted, why="replaced", now=now)
    assert [(move.new, move.by) for move in submitted.moves.all()] == [
        ("draft", team.officer),
        ("submitted", team.officer),
        ("draft", second),
        ("submitted", team.officer),
        ("listed", second),
        ("retired", team.officer),
    ]
    audited = set(
        AuditEntry.objects.filter(target="regimen:prep-im-0-7-21@2").values_list("action", flat=True)
    )
    assert {"regimen.drafted", "regimen.submitted", "regimen.approved", "regimen.retired"} <= audited


def _editor(team: Team, draft: Regimen, now: datetime) -> User:
    other = second_officer(team)
    facts = replace(RegimenFacts.of(draft), name="Mended by a second")
    regimen_edit(actor=other, regimen=draft, facts=facts, now=now)
    return other


def test_who_drafted_submitted_or_last_changed_a_version_can_not_approve_it(
    team: Team, now: datetime
) -> None:
    draft = draft_of(team, now)
    editor = _editor(team, draft, now)
    regimen_submit(actor=team.officer, regimen=draft, now=now)
    for hand in (team.officer, editor):
        with pytest.raises(NotAllowed, match="another officer has to approve"):
            approve_by(hand, team, draft, now)
    assert Regimen.objects.get(pk=draft.pk).state == "submitted"
    assert not draft.approvals.exists()


def test_who_changed_a_version_before_somebody_elses_last_word_can_not_approve_it(
    team: Team, now: datetime
) -> None:
    draft = draft_of(team, now)
    editor = _editor(team, draft, now)
    facts = replace(RegimenFacts.of(draft), name="Mended again")
    regimen_edit(actor=team.officer, regimen=draft, facts=facts, now=now)
    regimen_submit(actor=team.officer, regimen=draft, now=now)
    with pytest.raises(NotAllowed, match="another officer has to approve"):
        approve_by(editor, team, draft, now)


def test_an_officer_of_another_site_or_a_liaison_can_not_approve(team: Team, now: datetime) -> None:
    submitted = submitted_of(team, now)
    for actor in (team.stranger, team.liaison, team.member):
        with pytest.raises(NotAllowed, match="site's safety officer"):
            approve_by(actor, team, submitted, now)


def test_a_draft_is_neither_approved_nor_offered_nor_counted_by(team: Team, now: datetime) -> None:
    draft = draft_of(team, now, "pep-im-0-3-7-14")
    with pytest.raises(Conflict, match="is draft"):
        approve_by(second_officer(team), team, draft, now)
    assert draft not in regimens_known()
    assert f"{draft.code}@2" not in {rule.code for rule in post_exposure_rules()}


def test_an_approval_is_not_dated_in_the_future(team: Team, now: datetime) -> None:
    with pytest.raises(Invalid) as refused:
        approve_by(second_officer(team), team, submitted_of(team, now), now - timedelta(days=365))
    assert set(refused.value.fields) == {"approved_on"}


@pytest.mark.parametrize(
    ("index", "change", "field", "words"),
    [
        (0, {"day": 1, "latest_day": 1}, "steps.1.day", "Step 1, day: the first step is day 0."),
        (
            1,
            {"day": 0, "latest_day": 7},
            "steps.2.day",
            "Step 2, day: must lie after the day of the step before.",
        ),
        (2, {"smallest_gap": 15}, "steps.3.smallest_gap", "Step 3, smallest gap: can't be longer"),
        (0, {"later": True}, "steps.1.later", "Step 1, keeps a complete series"),
    ],
)
def test_submitting_names_the_step_and_the_field_that_contradict(
    team: Team, now: datetime, index: int, change: dict[str, int], field: str, words: str
) -> None:
    draft = draft_of(team, now)
    facts = RegimenFacts.of(draft)
    steps = list(facts.steps)
    steps[index] = replace(steps[index], **change)
    regimen_edit(actor=team.officer, regimen=draft, facts=replace(facts, steps=tuple(steps)), now=now)
    with pytest.raises(Invalid) as refused:
        regimen_submit(actor=team.officer, regimen=draft, now=now)
    assert words in refused.value.fields[field]
    assert Regimen.objects.get(pk=draft.pk).state == "draft"


def test_only_a_draft_is_edited_and_the_refusal_names_the_version_and_its_state(
    team: Team, now: datetime
) -> None:
    submitted, listed = submitted_of(team, now), Regimen.objects.get(code=PRE_EXPOSURE, version=1)
    for row, state in ((submitted, "submitted for approval"), (listed, "listed")):
        before = RegimenFacts.of(row)
        with pytest.raises(Conflict, match=rf"\(v{row.version}\) is {state}"):
            regimen_edit(actor=team.officer, regimen=row, facts=replace(before, name="x"), now=now)
        assert RegimenFacts.of(Regimen.objects.get(pk=row.pk)) == before


def test_a_version_in_use_is_not_retired_until_its_approvals_are_withdrawn(team: Team, now: datetime) -> None:
    row = Regimen.objects.get(code="pep-immunised-im-0-3", version=1)
    with pytest.raises(Conflict, match="approved at Hillside"):
        regimen_retire(actor=team.officer, regimen=row, why="old", now=now)
    regimen_withdraw(actor=team.officer, approval=_standing(team, row.code), why="old", now=now)
    regimen_retire(actor=team.officer, regimen=row, why="old", now=now)
    assert row not in approved_at(team.site, "post-exposure-immunised")
    assert row in regimens_known(), "a dose given by it is still explained by it"
    with pytest.raises(Conflict):
        approve_by(second_officer(team), team, row, now)


def test_withdrawing_takes_away_the_clearance_that_rested_on_it_and_approving_gives_it_back(
    team: Team, now: datetime
) -> None:
    give_doses(team.person, team.officer, now, 60, 53, 39)
    today = team.site.local_date(now)
    assert clearance_on(team.person, today) is not None
    regimen_withdraw(actor=team.officer, approval=_standing(team), why="recalled", now=now)
    assert clearance_on(team.person, today) is None
    approve_by(team.officer, team, Regimen.objects.get(code=PRE_EXPOSURE, version=1), now)
    recompute_catch_up(now=now)
    assert clearance_on(team.person, today) is not None


def test_an_approval_is_withdrawn_once_with_a_reason_by_the_sites_officer(team: Team, now: datetime) -> None:
    approval = _standing(team)
    with pytest.raises(Invalid):
        regimen_withdraw(actor=team.officer, approval=approval, why=" ", now=now)
    with pytest.raises(NotAllowed):
        regimen_withdraw(actor=team.stranger, approval=approval, why="x", now=now)
    regimen_withdraw(actor=team.officer, approval=approval, why="recalled", now=now)
    with pytest.raises(Conflict, match="withdrawn already"):
        regimen_withdraw(actor=team.officer, approval=approval, why="again", now=now)


def test_a_member_drafts_nothing(team: Team, now: datetime) -> None:
    listed = Regimen.objects.get(code=PRE_EXPOSURE, version=1)
    before = RegimenMove.objects.count()
    with pytest.raises(NotAllowed):
        regimen_copy(actor=team.member, regimen=listed, code="mine", now=now)
    assert RegimenMove.objects.count() == before


def test_what_another_site_drafted_or_nobody_of_ones_own_used_is_refused_with_the_way_out(
    team: Team, now: datetime
) -> None:
    draft, unused = draft_of(team, now), Regimen.objects.get(code="prep-im-0-7", version=1)
    with pytest.raises(NotAllowed, match="Copy it into a draft of your own"):
        regimen_edit(actor=team.stranger, regimen=draft, facts=RegimenFacts.of(draft), now=now)
    with pytest.raises(NotAllowed, match="Copy it into a draft of your own"):
        regimen_submit(actor=team.stranger, regimen=draft, now=now)
    with pytest.raises(NotAllowed, match="stays in the table for the others"):
        regimen_retire(actor=team.stranger, regimen=draft, why="x", now=now)
    with pytest.raises(NotAllowed, match="stays in the table for the others"):
        regimen_retire(actor=team.officer, regimen=unused, why="x", now=now)
    copied = regimen_copy(actor=team.stranger, regimen=draft, code="our-own", now=now)
    regimen_retire(actor=team.stranger, regimen=copied, why="given up", now=now)
    assert {row.state for row in Regimen.objects.filter(pk__in=[draft.pk, unused.pk])} == {"draft", "listed"}


def test_two_who_begin_the_same_code_get_one_draft(team: Team, now: datetime) -> None:
    facts = RegimenFacts.of(Regimen.objects.get(code=PRE_EXPOSURE, version=1))
    regimen_start(actor=team.officer, code="ours", facts=facts, now=now)
    with pytest.raises(Conflict, match="choose a code that is new"):
        regimen_start(actor=team.stranger, code="ours", facts=facts, now=now)
    with pytest.raises(NotAllowed):
        regimen_start(actor=team.liaison, code="more", facts=facts, now=now)
    assert Regimen.objects.filter(code="ours").count() == 1
