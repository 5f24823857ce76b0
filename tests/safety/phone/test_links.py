"""Personal links: made and renewed, counted against guessing, good for sending and for nothing else."""

from __future__ import annotations

import logging
import re
import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import OperationalError
from django.test import Client
from django.urls import reverse
from django.utils.log import AdminEmailHandler

from safety.models import Incident, PhoneLink, PhoneMessage, WashSpell
from safety.services.phone.links import LinkState, link_check, link_make
from safety.services.phone.receive import messages_sweep
from staff.models import AuditEntry, SiteRole
from staff.services.outing.roster import roster_assign
from tests.factories import Team, give_doses, make_outing, make_person, make_user
from tests.safety.phone.phones import Phone, message, phone_of, post

pytestmark = pytest.mark.django_db
CARD = "/api/v1/phone/card/"


def card(code: str) -> Any:
    return Client().post(CARD, {"link": code}, content_type="application/json")


def test_the_code_is_128_bits_and_only_its_digest_is_kept(team: Team, now: datetime) -> None:
    made = link_make(actor=team.officer, person=team.person, now=now)
    assert re.fullmatch("[23456789A-HJKMNP-Z]{34}", made.code) and 31**26 > 2**128
    row = PhoneLink.objects.values().get()
    assert made.code[8:] not in str(row) and made.address.endswith(f"/phone/#{made.code}")
    assert made.code[8:] not in repr(made) and made.code[8:] not in str(
        AuditEntry.objects.latest("pk").detail
    )


@pytest.mark.parametrize("typed", ["{code}", " {shown} ", "{lower}"])
def test_a_code_may_be_typed_as_it_is_read(team: Team, now: datetime, typed: str) -> None:
    made = link_make(actor=team.officer, person=team.person, now=now)
    code = typed.format(code=made.code, shown=made.shown_code, lower=made.shown_code.lower())
    assert link_check(code=code, now=now).state is LinkState.LIVE


def test_five_wrong_tries_lock_a_link_for_a_quarter_of_an_hour(phone: Phone, now: datetime) -> None:
    wrong = phone.code[:-1] + ("2" if phone.code[-1] != "2" else "3")
    states = [link_check(code=wrong, now=now).state for _try in range(7)]
    assert states == [LinkState.UNKNOWN] * 5 + [LinkState.LOCKED] * 2
    almost, over = now + timedelta(minutes=14, seconds=59), now + timedelta(minutes=15)
    assert link_check(code=phone.code, now=almost).state is LinkState.LOCKED
    assert link_check(code=phone.code, now=over).state is LinkState.LIVE


def test_the_right_code_forgives_the_slips_before_it(phone: Phone, now: datetime) -> None:
    wrong = phone.code[:8] + "2" * 26
    for _round in range(3):
        for _try in range(4):
            assert link_check(code=wrong, now=now).state is LinkState.UNKNOWN
        assert link_check(code=phone.code, now=now).state is LinkState.LIVE


def test_the_field_card_tells_of_the_site_and_of_nobody(team: Team, phone: Phone, now: datetime) -> None:
    team.clinic.hours = "Mo-Fr 08:00-17:00"
    team.clinic.save()
    told = card(phone.code).json()
    assert (told["site"], told["emergency_number"], told["wash_minutes"]) == ("Hillside", "000", 15)
    # Monday 09:00 in Nairobi: open until 17:00, which is 14:00 UTC.
    assert told["clinics"][0]["open"][0] == ["2026-03-02T06:00:00Z", "2026-03-02T14:00:00Z"]
    assert team.person.name not in str(told) and "member" not in str(told).lower()
    assert told["keys"] == Client().get("/api/v1/phone/keys/").json()["keys"]
    assert PhoneLink.objects.get().last_used_at == now


def test_a_wrong_link_gets_no_card_and_is_told_when_to_try_again(phone: Phone) -> None:
    wrong = phone.code[:8] + "2" * 26
    answers = [card(wrong) for _try in range(6)]
    assert [answer.status_code for answer in answers] == [403] * 5 + [429]
    assert answers[5]["Retry-After"] == "900" and "15 minutes" in answers[5].json()["message"]


def test_a_renewed_link_gets_no_card_yet_its_report_is_placed_and_flagged(
    team: Team, phone: Phone, now: datetime, client: Client
) -> None:
    link_make(actor=team.officer, person=team.person, now=now)
    assert card(phone.code).status_code == 403
    reference = phone.report(uuid.uuid4())["reference"]
    assert Incident.objects.get().person == team.person
    assert PhoneMessage.objects.get().reason == "ended-link"
    client.force_login(team.officer)
    page = client.get(reverse("case", args=[reference])).content.decode()
    assert "ended link: ask the person" in page and "by the phone link of Test Member" in page


def test_an_unknown_link_is_held_and_the_flood_of_them_is_capped(team: Team, now: datetime) -> None:
    stranger = Phone("2" * 34, now)
    assert stranger.report(uuid.uuid4())["reference"] is None
    kept = PhoneMessage.objects.get()
    assert (kept.state, kept.reason, kept.proven) == ("held", "unknown-link", False)
    flood = message(stranger.text("report", stranger.bite(), uuid.uuid4()))
    for _turn in range(199):
        assert post(type(flood)(uuid.uuid4(), flood.body)).status_code == 201
    refused = post(flood)
    assert (refused.status_code, refused["Retry-After"]) == (429, "3600")
    assert PhoneMessage.objects.count() == 200
    assert phone_of(team.person, team.officer, now).report(uuid.uuid4())["reference"]


def test_a_report_under_a_locked_link_is_placed_when_the_lock_is_over(team: Team, phone: Phone) -> None:
    for _try in range(5):
        link_check(code=phone.code[:8] + "2" * 26, now=phone.now)
    assert phone.report(uuid.uuid4())["reference"] is None
    messages_sweep(now=phone.now + timedelta(minutes=14))
    assert not Incident.objects.exists()
    messages_sweep(now=phone.now + timedelta(minutes=15))
    assert Incident.objects.get().person == team.person


def test_a_lead_reports_for_the_crew_and_nobody_else_does(team: Team, now: datetime) -> None:
    lead = make_person(team.site, team.officer, now, number="20", name="Test Lead")
    lead.user = make_user("leader", team.site, SiteRole.Role.LEAD)
    lead.save()
    mate = make_person(team.site, team.officer, now, number="21", name="Test Mate")
    phone_of(lead, team.officer, now).report(uuid.uuid4(), person=team.person.pk)
    assert Incident.objects.get().person == team.person
    assert phone_of(mate, team.officer, now).report(uuid.uuid4(), person=lead.pk)["reference"] is None
    assert PhoneMessage.objects.get(state="held").reason == "not-on-crew"


def test_who_leads_that_days_outing_reports_for_those_on_it(team: Team, now: datetime) -> None:
    lead = make_person(team.site, team.officer, now, number="20", name="Test Lead")
    outing, crew = make_outing(team.site, team.officer, now)
    for person, role in ((lead, "lead"), (team.person, "catcher")):
        give_doses(person, team.officer, now, 30, 23, 9)
        roster_assign(actor=team.officer, outing=outing, crew=crew, person=person, role=role, now=now)
    phone = phone_of(lead, team.officer, now)
    for days, reference in ((2, False), (3, True), (4, False)):
        happened = (now + timedelta(days=days)).isoformat()
        answer = phone.report(uuid.uuid4(), person=team.person.pk, happened_at=happened)
        assert bool(answer["reference"]) is reference
    assert Incident.objects.get().outing == outing


def test_a_clock_started_for_somebody_else_moves_with_its_hold(team: Team, now: datetime) -> None:
    lead = make_person(team.site, team.officer, now, number="20", name="Test Lead")
    lead.user = make_user("leader", team.site, SiteRole.Role.LEAD)
    lead.save()
    phone, about = phone_of(lead, team.officer, now), uuid.uuid4()
    phone.send("alarm", {"started_at": now.isoformat(), "person": None, "soap": "yes"}, about)
    assert lead.holds.get().released_at is None
    phone.report(about, person=team.person.pk)
    assert Incident.objects.get().person == team.person
    assert team.person.holds.get().released_at is None and lead.holds.get().released_at == now


def test_nobody_adds_to_a_case_somebody_else_reported(team: Team, phone: Phone, now: datetime) -> None:
    about = uuid.uuid4()
    phone.report(about)
    mate = phone_of(make_person(team.site, team.officer, now, number="21"), team.officer, now)
    mate.send("wash", {"spells": [mate.spell(0, 900)]}, about)
    mate.report(about, late=90)
    assert not WashSpell.objects.exists()
    reasons = PhoneMessage.objects.filter(state="held").values_list("reason", flat=True)
    assert list(reasons) == ["not-yours", "not-yours"]


def test_member_and_officer_make_the_card_and_the_old_link_ends(team: Team, now: datetime) -> None:
    where = reverse("phone-card", args=[team.person.pk])
    codes = []
    for user in (team.member, team.officer):
        browser = Client()
        browser.force_login(user)
        assert browser.get(where).status_code == 200
        answer = browser.post(where)
        assert answer.status_code == 201 and "no-store" in answer["Cache-Control"]
        text = answer.content.decode()
        found = re.search(r'class="card-code">([0-9A-Z-]+)<', text)
        assert found and "<svg" in text
        codes.append(found[1])
        # The clinics on paper too: no health data, and a phone without network still rings.
        assert 'href="tel:0001"' in text and "Test Clinic" in text and 'href="tel:000"' in text
    assert [link_check(code=code, now=now).state for code in codes] == [LinkState.ENDED, LinkState.LIVE]
    assert PhoneLink.objects.filter(ended_at__isnull=True).count() == 1


def test_the_plain_form_takes_a_card_code_instead_of_a_password(team: Team, phone: Phone) -> None:
    said = {"key": str(uuid.uuid4()), "kind": "bite", "day": "2026-03-02", "clock": "08:30"}
    said |= {"body_site": "hand", "broke_skin": "yes", "bled": "yes", "soap": "yes", "animal": "cat"}
    said |= {"task": "other", "washed_minutes": "15", "contact": "", "narrative": ""}
    wrong = Client().post("/report/", said | {"card_code": phone.code[:8] + "2" * 26})
    assert wrong.status_code == 401 and "2" * 26 not in wrong.content.decode()
    slip = Client().post("/report/", said | {"kind": "", "card_code": phone.code})
    assert slip.status_code == 400 and phone.code not in slip.content.decode()
    for _time in range(2):
        sent = Client().post("/report/", said | {"card_code": phone.code})
        assert sent.status_code == 200 and Incident.objects.get().reference in sent.content.decode()
    incident = Incident.objects.get()
    assert (incident.person, incident.reported_by) == (team.person, None)
    changed = Client().post("/report/", said | {"animal": "dog-owned", "card_code": phone.code})
    assert changed.status_code == 422 and Incident.objects.count() == 1


def breaking(error: type[Exception]) -> Callable[..., None]:
    def broken(*_digests: object, **_said: object) -> None:
        raise error("broken on purpose")

    return broken


def test_no_link_reaches_a_log_or_an_error_mail(
    team: Team,
    phone: Phone,
    caplog: pytest.LogCaptureFixture,
    mailoutbox: list[Any],
    settings: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    settings.ADMINS = [("Test Admin", "admin@example.org")]
    caplog.set_level(logging.DEBUG)
    logger, mailer = logging.getLogger(), AdminEmailHandler(include_html=True)
    logger.addHandler(mailer)
    try:
        phone.report(uuid.uuid4())
        card(phone.code), card(phone.code[:8] + "2" * 26)
        Client().post("/report/", {"card_code": phone.code})

        for wrong in (RuntimeError, OperationalError):
            monkeypatch.setattr("safety.services.phone.receive.message_place", breaking(wrong))
            sent = message(phone.text("report", phone.bite(), uuid.uuid4()))
            assert post(sent).status_code == (201 if wrong is RuntimeError else 500)
        monkeypatch.setattr("safety.services.phone.links.constant_time_compare", breaking(RuntimeError))
        said = {"key": str(uuid.uuid4()), "kind": "bite", "day": "2026-03-02", "clock": "08:30"}
        said |= {"body_site": "hand", "broke_skin": "no", "bled": "no", "soap": "no", "animal": "cat"}
        plain = Client(raise_request_exception=False)
        assert plain.post("/report/", said | {"task": "other", "card_code": phone.code}).status_code == 500
        assert card(phone.code).status_code == 500
    finally:
        logger.removeHandler(mailer)
    logged = caplog.text + "".join(mail.message().as_string() + str(mail.alternatives) for mail in mailoutbox)
    assert logged.count("broken on purpose") >= 4 and mailoutbox
    secret = phone.code[8:]
    assert secret not in logged.replace("=\n", "") and "canary-phone" not in logged.replace("=\n", "")
