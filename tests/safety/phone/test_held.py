"""Reports that wait for a name: who sees them, and what an officer does with them."""

from __future__ import annotations

import re
import uuid
from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.formats import date_format

from safety.models import Incident, PhoneMessage
from staff.models import AuditEntry, User
from tests.factories import Team, make_person, make_user
from tests.safety.phone.phones import Phone, phone_of

pytestmark = pytest.mark.django_db
LIST = "/reports-waiting/"


def browser(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def step(user: User, name: str, key: Any, **said: Any) -> Any:
    return browser(user).post(reverse(name, args=[key]), said)


def test_a_report_without_a_link_is_read_by_the_one_officer_who_takes_it(team: Team, now: datetime) -> None:
    Phone("", now).report(uuid.uuid4())
    kept = PhoneMessage.objects.get()
    where = reverse("held-message", args=[kept.key])
    assert "without a card code" in browser(team.officer).get(LIST).content.decode()
    assert browser(team.officer).get(where).status_code == 404
    assert step(team.officer, "held-take", kept.key, reason="").status_code == 400
    assert step(team.officer, "held-take", kept.key, reason="asked around").status_code == 302
    assert AuditEntry.objects.filter(action="phone-message.taken", actor=team.officer).exists()
    assert "canary-phone" in browser(team.officer).get(where).content.decode()
    assert browser(team.stranger).get(where).status_code == 404
    assert str(kept.key) not in browser(team.stranger).get(LIST).content.decode()


def test_an_officer_says_whose_report_it_is_and_the_case_is_made(team: Team, now: datetime) -> None:
    mate = make_person(team.site, team.officer, now, number="21", name="Test Mate")
    phone_of(mate, team.officer, now).report(uuid.uuid4(), person=team.person.pk)
    kept = PhoneMessage.objects.get()
    said = {"person": team.person.pk, "reason": "mate called"}
    asked = browser(team.officer).get(reverse("held-place", args=[kept.key])).content.decode()
    assert "choose a person" in asked and "---------" not in asked
    assert step(team.officer, "held-place", kept.key, **said).status_code == 302
    incident = Incident.objects.get()
    assert (incident.person, incident.reported_by) == (team.person, team.officer)
    assert team.person.holds.get().placed_by == team.officer
    kept.refresh_from_db()
    assert (kept.state, kept.settle_reason) == ("placed", "mate called")
    again = step(team.officer, "held-place", kept.key, **said)
    assert again.status_code == 409 and Incident.objects.count() == 1


def test_a_second_report_is_never_placed_over_the_first_and_can_be_set_aside(
    team: Team, phone: Phone
) -> None:
    about = uuid.uuid4()
    phone.report(about)
    phone.report(about, late=90, kind="scratch", wounds=[])
    kept = PhoneMessage.objects.get(state="held")
    said = {"person": team.person.pk, "reason": "the same"}
    refused = step(team.officer, "held-place", kept.key, **said)
    assert refused.status_code == 409 and "set it aside" in refused.content.decode()
    assert step(team.officer, "held-set-aside", kept.key, reason="in the case").status_code == 302
    kept.refresh_from_db()
    assert (kept.state, Incident.objects.get().kind) == ("set-aside", "bite")


def test_washing_that_stayed_alone_becomes_a_case(team: Team, phone: Phone) -> None:
    phone.send("wash", {"spells": [phone.spell(0, 600)], "antiseptic": "yes"}, uuid.uuid4())
    PhoneMessage.objects.update(state="held", reason="no-report")
    key = PhoneMessage.objects.get().key
    step(team.officer, "held-place", key, person=team.person.pk, reason="asked")
    incident = Incident.objects.get()
    assert (incident.happened_at, incident.antiseptic) == (phone.now, "yes")
    assert incident.wash_spells.get().recorded_by == team.officer and incident.details_at is None


def test_what_cannot_be_opened_can_only_be_set_aside(team: Team, phone: Phone) -> None:
    phone.report(uuid.uuid4(), person=0)
    PhoneMessage.objects.update(sealed="AAAA")
    key = PhoneMessage.objects.get().key
    page = browser(team.officer).get(reverse("held-message", args=[key])).content.decode()
    assert "be opened here" in page
    refused = step(team.officer, "held-place", key, person=team.person.pk, reason="x")
    assert refused.status_code == 409 and "be opened" in refused.content.decode()


def test_the_cases_page_says_how_many_wait(team: Team, now: datetime) -> None:
    Phone("", now).report(uuid.uuid4())
    assert "1 report from a phone waits" in browser(team.officer).get("/cases/").content.decode()
    liaison = browser(team.liaison).get("/cases/").content.decode()
    assert "waits for a name" not in liaison
    assert browser(make_user("nobody")).get(LIST).status_code == 403


def test_a_message_is_shown_in_the_words_of_the_case_and_by_the_sites_clock(
    team: Team, now: datetime, phone: Phone
) -> None:
    mate = make_person(team.site, team.officer, now, number="21", name="Test Mate")
    phone.report(uuid.uuid4(), person=mate.pk, animal="griffin", washing={"spells": [phone.spell(0, 600)]})
    kept = PhoneMessage.objects.get()
    page = browser(team.officer).get(reverse("held-message", args=[kept.key])).content.decode()
    text = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    for words in ("Person Test Mate", "All answers given yes", "Causes 1 bare hands", "Task collaring"):
        assert words in text
    # What is no answer of ours stays as it was sent.
    assert "Animal griffin" in text
    assert "About the animal, signs 1 staggered, weak or lame" in text
    assert f"started {date_format(phone.now.astimezone(team.site.zone), 'DATETIME_FORMAT')}" in text
    assert "T0" not in text and "UTC" not in text
    listed = browser(team.officer).get(LIST).content.decode()
    received = date_format(kept.received_at.astimezone(team.site.zone), "DATETIME_FORMAT")
    assert received in listed and "UTC" not in listed


def test_whose_report_it_is_is_asked_by_site(team: Team, phone: Phone) -> None:
    phone.report(uuid.uuid4(), person=0)
    key = PhoneMessage.objects.get().key
    page = browser(team.officer).get(reverse("held-place", args=[key])).content.decode()
    assert f'<optgroup label="{team.site.name}">' in page
