"""Signing in and out, the password, the language, the API keys."""

from __future__ import annotations

import re

import pytest
from django.conf import settings
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.test import Client
from django.urls import reverse
from django.utils.module_loading import import_string
from knox.models import AuthToken

from config import settings as chosen
from staff.models import AuditEntry, User
from tests.factories import Team
from tests.staff.pages.scenes import signed_in_as

OLD, NEW = "kettle-lantern-42", "harbour-lantern-77"


@pytest.fixture
def officer(team: Team) -> User:
    team.officer.set_password(OLD)
    team.officer.save()
    return team.officer


def test_the_service_itself_keeps_passwords_by_argon2_alone_and_at_its_full_cost() -> None:
    (hasher,) = map(import_string, chosen.PASSWORD_HASHERS)
    assert hasher is Argon2PasswordHasher
    # The password storage recommendations of OWASP ask for 19 MiB and two passes at least (not checked against them).
    assert hasher.memory_cost >= 19 * 1024 and hasher.time_cost >= 2


def test_signing_in_leads_on_to_the_page_asked_for(officer: User, client: Client) -> None:
    url = f"{reverse('sign-in')}?next={reverse('outings')}"
    response = client.post(url, {"username": "officer", "password": OLD})
    assert response["Location"] == reverse("outings")
    assert settings.LANGUAGE_COOKIE_NAME in response.cookies


def test_signing_in_leads_to_no_other_host(officer: User, client: Client) -> None:
    url = f"{reverse('sign-in')}?next=https://elsewhere.example/"
    response = client.post(url, {"username": "officer", "password": OLD})
    assert response["Location"] == reverse("home")


def test_a_wrong_password_is_told_without_saying_which_half_is_wrong(officer: User, client: Client) -> None:
    answers = [
        client.post(reverse("sign-in"), {"username": name, "password": "wrong"}).content.decode()
        for name in ("officer", "nobody")
    ]
    for html in answers:
        assert "don&#x27;t go together" in html
        assert "_auth_user_id" not in client.session


def test_signing_out_takes_a_post_and_ends_the_session(officer: User) -> None:
    client = signed_in_as(officer)
    assert client.get(reverse("sign-out")).status_code == 405
    client.post(reverse("sign-out"))
    assert client.get(reverse("account")).status_code == 302


def test_a_form_lost_by_a_session_that_ended_is_said_on_the_sign_in_page(
    officer: User, client: Client
) -> None:
    lost = "what you had typed was not kept"
    assert lost not in client.get(reverse("outing-add"), follow=True).content.decode()
    shown = client.post(reverse("outing-add"), {"area": "North"}, follow=True)
    assert shown.redirect_chain[-1][0] == f"{reverse('sign-in')}?next={reverse('outing-add')}"
    assert lost in shown.content.decode()
    assert lost not in client.get(reverse("sign-in")).content.decode()


def test_a_choice_of_one_language_is_no_choice(officer: User) -> None:
    assert "language-title" not in signed_in_as(officer).get(reverse("account")).content.decode()


def test_a_changed_password_keeps_this_device_and_signs_out_the_others(officer: User) -> None:
    here, elsewhere = signed_in_as(officer), signed_in_as(officer)
    data = {"old_password": OLD, "new_password1": NEW, "new_password2": NEW}
    assert here.post(reverse("account-password"), data).status_code == 302
    assert here.get(reverse("account")).status_code == 200
    assert elsewhere.get(reverse("account")).status_code == 302
    assert AuditEntry.objects.filter(action="password.changed", actor=officer).exists()


def test_a_password_is_not_changed_without_the_old_one(officer: User) -> None:
    data = {"old_password": "wrong", "new_password1": NEW, "new_password2": NEW}
    response = signed_in_as(officer).post(reverse("account-password"), data)
    assert response.status_code == 400
    assert 'href="#id_old_password"' in response.content.decode()
    officer.refresh_from_db()
    assert officer.check_password(OLD)


def test_a_key_is_shown_once_opens_the_api_and_can_be_revoked(officer: User) -> None:
    client = signed_in_as(officer)
    made = client.post(reverse("account-key-add"), {"password": OLD})
    assert made.status_code == 201
    assert "no-store" in made["Cache-Control"]
    key = re.search(r'<p class="key">(\w+)</p>', made.content.decode()).group(1)
    assert key not in client.get(reverse("account")).content.decode()
    headers = {"Authorization": f"Token {key}"}
    assert Client(headers=headers).get("/api/v1/regimens/").status_code == 200
    row = AuthToken.objects.get(user=officer)
    client.post(reverse("account-key-end", args=[row.token_key]))
    assert Client(headers=headers).get("/api/v1/regimens/").status_code == 401


def test_a_key_is_not_made_without_the_password(officer: User) -> None:
    response = signed_in_as(officer).post(reverse("account-key-add"), {"password": "wrong"})
    assert response.status_code == 400
    assert not AuthToken.objects.exists()


def test_nobody_revokes_anothers_key(team: Team, officer: User) -> None:
    row, _key = AuthToken.objects.create(user=officer)
    response = signed_in_as(team.stranger).post(reverse("account-key-end", args=[row.token_key]), follow=True)
    assert "revoked already" in response.content.decode()
    assert AuthToken.objects.filter(pk=row.pk).exists()


def test_a_language_that_is_not_offered_is_refused(team: Team) -> None:
    member = signed_in_as(team.member)
    assert member.post(reverse("account-language"), {"language": "xx"}).status_code == 400
    assert member.post(reverse("account-language"), {"language": "en"}).status_code == 302


def test_pages_are_never_framed_and_load_nothing_from_elsewhere(client: Client, db: None) -> None:
    response = client.get(reverse("sign-in"))
    policy = response["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    html = response.content.decode()
    assert not re.findall(r'(?:src|href)="(?:https?:)?//', html)
    assert not re.findall(r"\sstyle=|<script(?![^>]*\ssrc=)", html)
