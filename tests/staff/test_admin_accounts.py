"""The administrator's desk: nobody acts as somebody else by it, and no door is opened without a trace."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib import admin
from django.contrib.auth.models import Group
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from knox.models import AuthToken

from staff.ground.errors import NotAllowed
from staff.models import AccountChange, AuditEntry, SiteRole, User
from staff.services.site.accounts import role_give, role_take
from tests.factories import Team

pytestmark = pytest.mark.django_db
OFFICER = SiteRole.Role.OFFICER


@pytest.fixture
def root(db: None) -> User:
    return User.objects.create(username="admin", email="admin@example.org", is_staff=True, is_superuser=True)


@pytest.fixture
def desk(root: User) -> Client:
    client = Client()
    client.force_login(root)
    return client


def form_of(account: User, **changes: Any) -> dict[str, Any]:
    """What the page of an account sends when nothing is changed, with `changes`."""
    rows = list(account.site_roles.order_by("pk"))
    data: dict[str, Any] = {
        "username": account.username,
        "first_name": account.first_name,
        "last_name": account.last_name,
        "email": account.email,
        "language": account.language,
        "time_zone": account.time_zone,
        "site_roles-TOTAL_FORMS": len(rows) + 1,
        "site_roles-INITIAL_FORMS": len(rows),
    }
    data |= {name: "on" for name in ("is_active", "is_superuser") if getattr(account, name)}
    for number, row in enumerate(rows):
        data |= {f"site_roles-{number}-id": row.pk, f"site_roles-{number}-user": account.pk}
    return {name: value for name, value in (data | changes).items() if value is not None}


def new_role(account: User, site: Any, role: str) -> dict[str, Any]:
    number = account.site_roles.count()
    return {f"site_roles-{number}-site": site.pk, f"site_roles-{number}-role": role}


def send(desk: Client, account: User, **changes: Any) -> str:
    where = reverse("admin:staff_user_change", args=[account.pk])
    return desk.post(where, form_of(account, **changes), follow=True).content.decode()


def test_the_desk_holds_no_key_no_group_and_no_health_record(desk: Client, team: Team) -> None:
    assert {model._meta.label for model in admin.site._registry} == {
        "staff.User",
        "staff.Site",
        "staff.SiteRules",
        "staff.Outing",
        "staff.Assignment",
        "safety.Clinic",
    }
    assert AuthToken not in admin.site._registry and Group not in admin.site._registry
    assert desk.get("/admin/knox/authtoken/add/").status_code == 404
    with pytest.raises(NoReverseMatch):
        reverse("admin:auth_user_password_change", args=[team.officer.pk])


@pytest.mark.parametrize("name", ["officer", "member", "admin"])
def test_nobodys_password_is_set_on_the_desk(desk: Client, team: Team, name: str) -> None:
    account = User.objects.get(username=name)
    before = account.password
    desk.post(
        f"/admin/staff/user/{account.pk}/password/", {"password1": "a-b-c-d-e-9", "password2": "a-b-c-d-e-9"}
    )
    send(desk, account, password="!", password1="a-b-c-d-e-9", password2="a-b-c-d-e-9")
    account.refresh_from_db()
    assert account.password == before


def test_ones_own_is_changed_where_it_is_counted_and_noted(desk: Client) -> None:
    assert desk.get(reverse("admin:password_change"))["Location"] == reverse("account")


def test_an_account_is_made_without_a_password_or_a_role(desk: Client, root: User) -> None:
    data = {
        "username": "new",
        "email": "new@example.org",
        "language": "en",
        "password": "abc",
        "is_superuser": "on",
    }
    assert desk.post(reverse("admin:staff_user_add"), data).status_code == 302
    made = User.objects.get(username="new")
    assert not made.has_usable_password() and not made.is_superuser and not made.site_roles.exists()
    assert AccountChange.objects.get().kind == "made"
    assert AuditEntry.objects.get(action="account.made").actor == root


def test_the_administrator_gives_itself_no_role(desk: Client, root: User, team: Team) -> None:
    shown = send(desk, root, **new_role(root, team.site, "officer"))
    assert "Nobody gives a role to themself" in shown
    assert not root.site_roles.exists() and not AccountChange.objects.exists()


def test_no_role_is_turned_into_another(desk: Client, team: Team) -> None:
    send(desk, team.lead, **{"site_roles-0-role": "officer", "site_roles-0-site": team.other_site.pk})
    row = team.lead.site_roles.get()
    assert (row.role, row.site) == ("lead", team.site)


def test_a_role_given_on_the_desk_waits_and_leaves_its_rows(desk: Client, root: User, team: Team) -> None:
    assert "opens nothing until" in send(desk, team.member, **new_role(team.member, team.site, "liaison"))
    assert not team.member.site_roles.exists()
    assert team.member.role_offers.get().given_by == root
    change = AccountChange.objects.get()
    assert (change.kind, change.account, change.site, change.role) == (
        "role-offered",
        team.member,
        team.site,
        "liaison",
    )
    entry = AuditEntry.objects.get(action="account.role-offered")
    assert entry.actor == root and entry.site == team.site and entry.detail["role"] == "liaison"


def test_a_role_taken_away_leaves_its_rows(desk: Client, root: User, team: Team) -> None:
    send(desk, team.lead, **{"site_roles-0-DELETE": "on"})
    assert not team.lead.site_roles.exists()
    assert AccountChange.objects.get().kind == "role-taken"
    assert AuditEntry.objects.filter(action="account.role-taken", actor=root, site=team.site).exists()


def test_a_changed_address_keeps_the_old_one_to_tell_it_there(desk: Client, team: Team) -> None:
    send(desk, team.officer, email="elsewhere@example.org")
    change = AccountChange.objects.get()
    assert (change.kind, change.old_email) == ("email", "officer@example.org")
    assert AuditEntry.objects.get(action="account.changed").detail["email"] == [
        "officer@example.org",
        "elsewhere@example.org",
    ]


@pytest.mark.parametrize(
    ("sent", "kind"),
    [({"is_superuser": "on"}, "administrator"), ({"is_active": None}, "closed")],
)
def test_doors_opened_or_closed_leave_their_rows(
    desk: Client, team: Team, sent: dict[str, Any], kind: str
) -> None:
    send(desk, team.lead, **sent)
    assert AccountChange.objects.get().kind == kind
    team.lead.refresh_from_db()
    assert team.lead.is_staff == team.lead.is_superuser == (kind == "administrator")


def test_an_administrator_doesnt_end_its_own_office(desk: Client, root: User) -> None:
    assert "Another administrator" in send(desk, root, is_superuser=None)
    root.refresh_from_db()
    assert root.is_superuser and not AccountChange.objects.exists()


def test_no_account_is_deleted(desk: Client, team: Team) -> None:
    where = reverse("admin:staff_user_delete", args=[team.member.pk])
    assert desk.post(where, {"post": "yes"}).status_code == 403
    assert User.objects.filter(pk=team.member.pk).exists()


def test_djangos_staff_mark_alone_opens_nothing(team: Team) -> None:
    User.objects.filter(pk=team.lead.pk).update(is_staff=True)
    client = Client()
    client.force_login(team.lead)
    assert client.get(reverse("admin:index")).status_code == 302


def test_the_service_and_the_database_refuse_a_role_for_oneself(team: Team) -> None:
    now = timezone.now()
    with pytest.raises(NotAllowed):
        role_give(actor=team.lead, account=team.lead, site=team.site, role=OFFICER, now=now)
    with pytest.raises(NotAllowed):
        role_take(actor=team.lead, row=team.lead.site_roles.get(), now=now)
    with pytest.raises(IntegrityError), transaction.atomic():
        SiteRole.objects.create(user=team.lead, site=team.site, role=OFFICER, given_by=team.lead)
    with pytest.raises(IntegrityError), transaction.atomic():
        SiteRole.objects.filter(user=team.lead).update(given_by=team.lead)


def test_a_password_set_at_the_console_is_noted_and_ends_sessions(
    team: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = Client()
    client.force_login(team.officer)
    monkeypatch.setattr("getpass.getpass", lambda _prompt: "kettle-lantern-42")
    call_command("changepassword", "officer")
    team.officer.refresh_from_db()
    assert team.officer.check_password("kettle-lantern-42")
    assert AccountChange.objects.get().kind == "password-set"
    assert AuditEntry.objects.filter(
        action="account.password-set", target=f"account:{team.officer.pk}"
    ).exists()
    assert client.get(reverse("account")).status_code == 302


@pytest.mark.parametrize("typed", [["short", "short"], ["kettle-lantern-42", "kettle-lantern-43"]])
def test_a_password_that_cannot_be_is_refused(
    team: Team, monkeypatch: pytest.MonkeyPatch, typed: list[str]
) -> None:
    answers = iter(typed)
    monkeypatch.setattr("getpass.getpass", lambda _prompt: next(answers))
    with pytest.raises(CommandError):
        call_command("changepassword", "officer")
    assert not AccountChange.objects.exists()


def test_a_key_made_at_the_console_is_noted(team: Team, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("api_token", "officer")
    assert AccountChange.objects.get().kind == "key-made" and capsys.readouterr().out


def test_a_change_of_an_account_never_changes(team: Team) -> None:
    role_give(actor=None, account=team.member, site=team.site, role="lead", now=timezone.now())
    with pytest.raises(IntegrityError), transaction.atomic():
        AccountChange.objects.update(kind="email")
    with pytest.raises(IntegrityError), transaction.atomic():
        AccountChange.objects.all().delete()
