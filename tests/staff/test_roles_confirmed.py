"""A role the administrator gives opens nothing until an officer of the site, a third account, has confirmed it."""

from __future__ import annotations

from datetime import datetime

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from staff.ground.errors import Conflict, NotAllowed
from staff.models import AccountChange, AuditEntry, RoleOffer, SiteRole, User
from staff.selectors.access import LEAD, LIAISON, OFFICER, roles_of, sites_as
from staff.services.site.accounts import role_answer, role_give
from tests.factories import Team, make_site, make_user
from tests.staff.pages.scenes import signed_in_as

pytestmark = pytest.mark.django_db


@pytest.fixture
def root(db: None) -> User:
    return User.objects.create(username="admin", email="admin@example.org", is_staff=True, is_superuser=True)


@pytest.fixture
def newcomer(db: None) -> User:
    return make_user("newcomer")


def offer(team: Team, root: User, newcomer: User, now: datetime, role: str = OFFICER) -> RoleOffer:
    made = role_give(actor=root, account=newcomer, site=team.site, role=role, now=now)
    assert isinstance(made, RoleOffer)
    return made


def press(team: Team, viewer: User, row: RoleOffer, word: str = "confirm") -> int:
    where = reverse("role-answer", args=[row.pk])
    return signed_in_as(viewer).post(where, {word: "1"}).status_code


@pytest.mark.parametrize("role", [OFFICER, LIAISON, LEAD])
def test_it_opens_nothing_before_and_holds_after_an_officer_confirms_it(
    team: Team, root: User, newcomer: User, now: datetime, role: str
) -> None:
    row = offer(team, root, newcomer, now, role)
    record = reverse("person", args=[team.person.pk])
    assert not roles_of(newcomer) and not sites_as(newcomer, OFFICER, LIAISON, LEAD).exists()
    assert signed_in_as(newcomer).get(record).status_code == 403
    page = signed_in_as(team.officer).get(reverse("account-changes"))
    assert "Roles that wait for you" in page.content.decode()
    assert press(team, team.officer, row) == 302
    assert roles_of(newcomer) == {role}
    held = newcomer.site_roles.get()
    assert (held.given_by, held.confirmed_by) == (root, team.officer)
    assert AuditEntry.objects.filter(action="account.role-given", actor=team.officer).exists()
    assert list(AccountChange.objects.values_list("kind", flat=True)) == ["role-given", "role-offered"]


def test_one_that_is_declined_holds_never(team: Team, root: User, newcomer: User, now: datetime) -> None:
    row = offer(team, root, newcomer, now)
    press(team, team.officer, row, "decline")
    assert not newcomer.site_roles.exists()
    row.refresh_from_db()
    with pytest.raises(Conflict):
        role_answer(actor=team.officer, offer=row, confirmed=True, now=now)
    assert not newcomer.site_roles.exists()
    assert AccountChange.objects.first().kind == "role-declined"  # type: ignore[union-attr]


def test_neither_giver_nor_receiver_nor_a_stranger_confirms_it(
    team: Team, root: User, newcomer: User, now: datetime
) -> None:
    row = offer(team, root, newcomer, now)
    for viewer in (root, newcomer, team.stranger, team.liaison, team.lead):
        assert press(team, viewer, row) in (403, 404)
        with pytest.raises(NotAllowed):
            role_answer(actor=viewer, offer=row, confirmed=True, now=now)
    second = offer(team, team.officer, make_user("other"), now) if _second(team) else None
    assert second is not None and press(team, team.officer, second) == 404
    assert not newcomer.site_roles.exists()


def _second(team: Team) -> SiteRole:
    """Another officer, so that one the first gives waits too."""
    return SiteRole.objects.create(user=make_user("second"), site=team.site, role=OFFICER)


def test_at_a_site_without_another_officer_it_holds_at_once(
    team: Team, root: User, newcomer: User, now: datetime
) -> None:
    empty = make_site("upland")
    assert isinstance(role_give(actor=root, account=newcomer, site=empty, role=OFFICER, now=now), SiteRole)
    assert AccountChange.objects.get().kind == "role-given"
    # The next one waits for the first.
    made = role_give(actor=root, account=make_user("next"), site=empty, role=OFFICER, now=now)
    assert isinstance(made, RoleOffer)


def test_given_twice_it_waits_once(team: Team, root: User, newcomer: User, now: datetime) -> None:
    offer(team, root, newcomer, now)
    with pytest.raises(Conflict):
        offer(team, root, newcomer, now)
    with pytest.raises(IntegrityError), transaction.atomic():
        RoleOffer.objects.create(user=newcomer, site=team.site, role=OFFICER, given_at=now)


@pytest.mark.parametrize("who", ["giver", "receiver"])
def test_the_database_refuses_fewer_than_three_accounts(
    team: Team, root: User, newcomer: User, now: datetime, who: str
) -> None:
    row = offer(team, root, newcomer, now)
    by = {"giver": root, "receiver": newcomer}[who]
    with pytest.raises(IntegrityError), transaction.atomic():
        RoleOffer.objects.filter(pk=row.pk).update(answered_by=by, answered_at=now, confirmed=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        SiteRole.objects.create(user=newcomer, site=team.site, role=OFFICER, given_by=root, confirmed_by=by)
