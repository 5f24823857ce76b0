"""Who is told that somebody changed an account: its owner and the officers concerned, at once."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.core.management import call_command
from django.test import Client

from safety.emails.build import build_mail
from safety.models import Notice
from safety.services.notices.notices import notices_reconcile, still_true
from staff.models import SiteRole, User
from staff.services.site.accounts import account_create, account_save, password_set, role_give, role_take
from tests.factories import Team, make_user

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)
OFFICER = SiteRole.Role.OFFICER


@pytest.fixture
def root(db: None) -> User:
    return User.objects.create(username="admin", email="admin@example.org", is_staff=True, is_superuser=True)


def told(now: datetime) -> dict[str, str]:
    """Address → audience of everybody who is told, after a sweep."""
    notices_reconcile(now=now)
    rows = Notice.objects.filter(kind="account-change").exclude(state="withdrawn")
    assert all(row.due_at <= now and still_true(row, now) for row in rows)
    assert len({row.email for row in rows}) == len(rows)
    return {row.email.partition("@")[0]: row.audience for row in rows}


def change(account: User, by: User, now: datetime, **new: object) -> None:
    old = {name: getattr(account, name) for name in new}
    for name, value in new.items():
        setattr(account, name, value)
    account_save(actor=by, account=account, old=old, now=now)


def test_a_role_given_is_told_to_who_got_it_and_to_the_officers_of_that_site(
    team: Team, root: User, now: datetime
) -> None:
    role_give(actor=root, account=team.member, site=team.site, role="liaison", now=now)
    assert told(now) == {"member": "account", "officer": "officer"}
    # Once: the sweep finds it told.
    assert told(now + MINUTE) == {"member": "account", "officer": "officer"}


def test_a_role_taken_is_told_though_nobody_holds_it_any_more(team: Team, root: User, now: datetime) -> None:
    """Neither does who was an officer when it happened hear nothing of what else was done in that minute."""
    role_give(actor=root, account=team.member, site=team.site, role="lead", now=now)
    role_take(actor=root, row=team.officer.site_roles.get(), now=now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    rows = Notice.objects.filter(kind="account-change", account_change__kind="role-offered")
    assert {row.email for row in rows} == {"member@example.org", "officer@example.org"}
    rows = Notice.objects.filter(kind="account-change", account_change__kind="role-taken")
    assert "officer@example.org" in {row.email for row in rows}


def test_the_first_officer_of_a_site_is_told_to_who_was_one_until_lately(
    team: Team, root: User, now: datetime
) -> None:
    role_take(actor=root, row=team.officer.site_roles.get(), now=now)
    notices_reconcile(now=now)
    role_give(actor=root, account=team.member, site=team.site, role=OFFICER, now=now + 9 * MINUTE)
    notices_reconcile(now=now + 9 * MINUTE)
    rows = Notice.objects.filter(account_change__kind="role-given")
    assert {row.email for row in rows} == {"member@example.org", "officer@example.org"}


def test_a_changed_address_is_told_at_the_old_one_too(team: Team, root: User, now: datetime) -> None:
    password_set(account=team.lead, password="kettle-lantern-42", now=now)
    change(team.lead, root, now + MINUTE, email="elsewhere@example.org")
    notices_reconcile(now=now + MINUTE)
    rows = Notice.objects.filter(kind="account-change")
    for kind in ("password-set", "email"):
        found = {row.email.partition("@")[0] for row in rows.filter(account_change__kind=kind)}
        assert found == {"lead", "elsewhere", "officer"}


@pytest.mark.parametrize("site_role", [True, False])
def test_who_is_made_an_administrator_is_told_to_the_officers_of_their_sites_or_of_all(
    team: Team, root: User, now: datetime, site_role: bool
) -> None:
    account = team.lead if site_role else make_user("newcomer")
    change(account, root, now, is_superuser=True)
    officers = {"officer"} if site_role else {"officer", "stranger"}
    assert set(told(now)) == {account.username, *officers}


def test_somebody_other_than_who_made_the_change_is_always_told(
    team: Team, root: User, now: datetime
) -> None:
    """The sole officer is an administrator too and gives a role to an account that has no address."""
    change(team.officer, root, now - 30 * MINUTE, is_superuser=True)
    notices_reconcile(now=now)
    Notice.objects.all().delete()
    User.objects.filter(pk=team.member.pk).update(email="")
    team.member.refresh_from_db()
    role_give(actor=team.officer, account=team.member, site=team.site, role="lead", now=now)
    notices_reconcile(now=now)
    rows = Notice.objects.filter(account_change__kind="role-given")
    assert {row.email.partition("@")[0] for row in rows} == {"officer", "liaison", "admin"}


def test_an_account_of_no_site_is_told_to_its_owner(team: Team, root: User, now: datetime) -> None:
    account_create(actor=root, account=User(username="new", email="new@example.org"), now=now)
    assert told(now) == {"new": "account"}


def test_a_closed_account_is_told_and_what_is_a_week_old_is_not(
    team: Team, root: User, now: datetime
) -> None:
    change(team.lead, root, now, is_active=False)
    change(team.liaison, root, now - timedelta(days=8), is_active=False)
    assert set(told(now)) == {"lead", "officer"}


def test_a_key_made_at_the_console_is_told(team: Team, now: datetime) -> None:
    call_command("api_token", "officer")
    assert Notice.objects.count() == 0, "a crash right after"
    notices_reconcile(now=team.officer.account_changes.get().at)
    assert Notice.objects.get().email == "officer@example.org"


def test_the_mail_says_what_and_whom_to_ask_and_the_page_says_the_rest(
    team: Team, root: User, now: datetime
) -> None:
    role_give(actor=root, account=team.member, site=team.site, role="liaison", now=now)
    told(now)
    for row in Notice.objects.filter(kind="account-change"):
        mail = build_mail(row, now.date())
        for form in ("plain", "html"):
            text = " ".join(mail.get_body((form,)).get_content().split())  # type: ignore[union-attr]
            assert "role given" in text and "/account/changes/" in text and row.reference in text
            assert "ask your safety officer or the administrator" in text
            assert ("your account" in text) is (row.audience == "account")


def test_the_page_shows_a_change_to_those_who_were_told(team: Team, root: User, now: datetime) -> None:
    role_give(actor=root, account=team.member, site=team.site, role="liaison", now=now)
    change(team.lead, root, now, email="elsewhere@example.org")
    seen = {}
    for viewer in (team.member, team.lead, team.officer, team.stranger, team.liaison, root):
        client = Client()
        client.force_login(viewer)
        text = client.get("/account/changes/").content.decode()
        seen[viewer.username] = ("role given" in text, "mail address changed" in text)
    assert seen == {
        "member": (True, False),
        "lead": (False, True),
        "officer": (True, True),
        "stranger": (False, False),
        "liaison": (False, False),
        "admin": (True, True),
    }
