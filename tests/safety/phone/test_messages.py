"""What a phone sends arrives once, in any order, under the right name."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from safety.models import HandledTally, Incident, PhoneMessage
from safety.selectors.case.needs import needs_of
from safety.services.phone.receive import messages_sweep
from staff.models import Hold
from tests.factories import Team
from tests.safety.phone.phones import MESSAGES, Phone, message, post

pytestmark = pytest.mark.django_db
State = PhoneMessage.State


def alarm(phone: Phone, **changes: Any) -> dict[str, Any]:
    return {"started_at": phone.now.isoformat(), "person": None, "soap": "yes", **changes}


def test_an_alarm_makes_a_case_with_a_running_clock_and_holds_the_person(team: Team, phone: Phone) -> None:
    answer = phone.send("alarm", alarm(phone), uuid.uuid4())
    incident = Incident.objects.get()
    assert answer == {"received": True, "reference": incident.reference}
    assert (incident.person, incident.details_at, incident.kind) == (team.person, None, "other")
    assert (incident.reported_by, incident.reported_through) == (None, team.person.phone_links.get())
    assert incident.wash_spells.get().stopped_at is None
    assert Hold.objects.get().person == team.person


def test_the_report_fills_in_the_alarms_case(phone: Phone) -> None:
    about = uuid.uuid4()
    first = phone.send("alarm", alarm(phone), about)
    place = {"latitude": -1.25, "longitude": 36.5, "accuracy_m": 12.0}
    washing = {"spells": [phone.spell(0, 900)], "stated_not_washed": False, "antiseptic": "yes"}
    assert phone.report(about, place=place, washing=washing) == first
    incident = Incident.objects.get()
    assert (incident.kind, incident.animal, incident.task) == ("bite", "dog-roaming", "collaring")
    assert incident.details_at == phone.now and incident.happened_at == phone.now - timedelta(minutes=5)
    assert (incident.latitude, incident.longitude, incident.accuracy_m) == (-1.25, 36.5, 12.0)
    assert (incident.antiseptic, incident.animal_facts["signs"]) == ("yes", ["weak"])
    spell, wound = incident.wash_spells.get(), incident.wounds.get()
    assert spell.stopped_at == phone.now + timedelta(minutes=15) and spell.running_water == "yes"
    assert (wound.contact, wound.deep) == ("bitten", "no")
    assert Hold.objects.count() == 1


def test_an_alarm_after_its_report_changes_nothing(phone: Phone) -> None:
    about = uuid.uuid4()
    washing = {"spells": [phone.spell(0, 900)], "stated_not_washed": False, "antiseptic": "unknown"}
    phone.report(about, washing=washing)
    phone.send("alarm", alarm(phone), about)
    incident = Incident.objects.get()
    assert incident.kind == "bite" and incident.details_at is not None
    assert incident.wash_spells.get().stopped_at == phone.now + timedelta(minutes=15)


def test_washing_that_arrives_before_the_report_waits_for_it(phone: Phone) -> None:
    about = uuid.uuid4()
    spells = {"spells": [phone.spell(0, 300), phone.spell(400)], "antiseptic": "yes"}
    assert phone.send("wash", spells, about, late=500) == {"received": True, "reference": None}
    assert PhoneMessage.objects.get().state == State.WAITING
    phone.report(about)
    incident = Incident.objects.get()
    assert incident.wash_spells.count() == 2 and incident.antiseptic == "yes"
    assert set(PhoneMessage.objects.values_list("state", flat=True)) == {State.PLACED}


def test_older_washing_never_starts_a_stopped_clock_again(phone: Phone) -> None:
    about = uuid.uuid4()
    phone.report(about)
    phone.send("wash", {"spells": [phone.spell(0, 900)], "antiseptic": "unknown"}, about, late=901)
    phone.send("wash", {"spells": [phone.spell(0, soap="no")], "antiseptic": "unknown"}, about, late=61)
    spell = Incident.objects.get().wash_spells.get()
    assert (spell.stopped_at, spell.soap) == (phone.now + timedelta(minutes=15), "yes")


def test_washing_without_a_report_is_held_after_a_day(phone: Phone) -> None:
    phone.send("wash", {"spells": [phone.spell(0, 300)]}, uuid.uuid4())
    messages_sweep(now=phone.now + timedelta(days=1))
    assert PhoneMessage.objects.get().state == State.WAITING
    messages_sweep(now=phone.now + timedelta(days=1, seconds=1))
    kept = PhoneMessage.objects.get()
    assert (kept.state, kept.reason) == (State.HELD, "no-report")


def test_a_second_different_report_is_held_and_writes_nothing_over(phone: Phone) -> None:
    about = uuid.uuid4()
    phone.report(about)
    answer = phone.report(about, late=120, kind="lick", wounds=[])
    assert answer["reference"] is None
    assert Incident.objects.get().kind == "bite"
    kept = PhoneMessage.objects.get(state=State.HELD)
    assert (kept.reason, kept.incident) == ("second-report", Incident.objects.get())


def test_a_draft_is_filled_in_by_its_report_and_never_the_other_way_round(phone: Phone) -> None:
    about = uuid.uuid4()
    phone.report(about, late=10, complete=False, animal="unknown")
    assert Incident.objects.get().details_at is None
    phone.report(about, late=60)
    phone.report(about, late=20, complete=False, animal="cat")
    incident = Incident.objects.get()
    assert incident.details_at is not None and incident.animal == "dog-roaming"
    assert incident.wounds.count() == 1
    assert not PhoneMessage.objects.exclude(state=State.PLACED).exists()


def test_an_answer_that_denies_the_bite_makes_it_no_less_a_bite(phone: Phone) -> None:
    phone.report(uuid.uuid4(), wounds=[{"contact": "none"}])
    assert Incident.objects.get().wounds.get().contact == "unknown"
    assert PhoneMessage.objects.get().reason == "partly-unread"
    assert Hold.objects.exists()


@pytest.mark.parametrize(
    "changes",
    [
        {"happened_at": "yesterday"},
        {"happened_at": "2026-03-02T06:00:00"},
        {"kind": "eaten"},
        {"causes": ["bare-hands", 7]},
        {"wounds": "many"},
        {"wounds": [None]},
        {"narrative": "half \ud800"},
        {"place": {"latitude": 91, "longitude": 0}},
        {"place": {"latitude": 1e400, "longitude": 0}},
        {"washing": {"spells": [{"started_at": "soon"}]}},
        {
            "washing": {
                "spells": [{"started_at": "2026-03-02T06:00:00Z", "stopped_at": "2026-03-02T05:00:00Z"}]
            }
        },
        {"animal_facts": []},
        {"person": True},
    ],
)
def test_what_cannot_be_read_is_named_and_the_rest_stands(phone: Phone, changes: dict[str, Any]) -> None:
    assert phone.report(uuid.uuid4(), **changes)["reference"]
    assert PhoneMessage.objects.get().reason == "partly-unread"
    assert Incident.objects.get().animal == "dog-roaming" and Hold.objects.exists()


def test_a_story_longer_than_the_pages_ask_for_stands_whole_in_the_case(phone: Phone) -> None:
    told = "It came from behind the market. " * 100
    assert phone.report(uuid.uuid4(), narrative=told)["reference"]
    assert PhoneMessage.objects.get().reason == ""
    assert Incident.objects.get().narrative == told


def test_dates_that_cannot_be_are_kept_and_shown_and_not_refused(
    team: Team, phone: Phone, now: datetime, client: Client
) -> None:
    washing = {"spells": [phone.spell(-90_000, -70_000), phone.spell(-60_000, -50_000)]}
    phone.report(uuid.uuid4(), happened_at=(now + timedelta(days=400)).isoformat(), washing=washing)
    incident = Incident.objects.get()
    assert incident.happened_at == now + timedelta(days=400)
    assert [s.stopped_at - s.started_at for s in incident.wash_spells.all() if s.stopped_at] == [
        timedelta(seconds=20_000),
        timedelta(seconds=10_000),
    ]
    assert Hold.objects.get().starts_on == incident.site.local_date(now)
    client.force_login(team.officer)
    page = client.get(f"/cases/{incident.reference}/").content.decode()
    for words in ("after it was reported", "begun before it happened", "over three hours"):
        assert words in page
    assert "clinic visit is dated" not in page


def test_dogs_handled_count_as_last_written(team: Team, phone: Phone) -> None:
    about = uuid.uuid4()
    for late, count in ((20, 12), (10, 5), (30, 14)):
        body = {"date": "2026-03-02", "outing": None, "counts": {"netting": count, "flying": 2}}
        assert phone.send("handled", body, about, late) == {"received": True, "reference": None}
        expected = {20: 12, 10: 12, 30: 14}[late]
        assert HandledTally.objects.get().count == expected
    tally = HandledTally.objects.get()
    assert (tally.sender, tally.site, tally.task) == (team.person, team.site, "netting")
    assert set(PhoneMessage.objects.values_list("reason", flat=True)) == {"partly-unread"}


def test_a_needlestick_is_held_and_referred_like_contact_nobody_knows(
    team: Team, phone: Phone, now: datetime
) -> None:
    phone.report(uuid.uuid4(), kind="needlestick", wounds=[{"contact": "needlestick", "body_site": "hand"}])
    assert Hold.objects.get().person == team.person
    steps = [step.code for step in needs_of(Incident.objects.get(), now)]
    assert steps == ["wash", "referral", "visit"]


def test_a_near_miss_holds_nobody(phone: Phone) -> None:
    phone.report(uuid.uuid4(), kind="near-miss", wounds=[])
    assert Incident.objects.get().kind == "near-miss" and not Hold.objects.exists()


def test_the_same_message_again_is_the_same_and_another_text_under_its_key_is_refused(phone: Phone) -> None:
    about, key = uuid.uuid4(), uuid.uuid4()
    text = phone.text("report", phone.bite(), about)
    first, again = message(text, key), message(text, key)
    assert first.body["sealed"] != again.body["sealed"]
    answers = [post(first), post(first), post(again)]
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.content for answer in answers}) == 1
    other = post(message({**text, "body": phone.bite(kind="lick")}, key))
    assert (other.status_code, other.json()["code"]) == (422, "key-reused")
    assert Incident.objects.count() == PhoneMessage.objects.count() == 1


def test_what_first_could_not_be_opened_is_taken_when_it_can_be(phone: Phone) -> None:
    text = phone.text("report", phone.bite(), uuid.uuid4())
    good = message(text)
    broken = {**good.body, "key_id": "gone"}
    assert post(type(good)(good.key, broken)).json()["reference"] is None
    assert PhoneMessage.objects.get().reason == "unreadable"
    assert post(good).json()["reference"] == Incident.objects.get().reference


@pytest.mark.parametrize("text", [[], {"v": 2}, {"v": 1, "about": "x"}, "no", {"v": 1, "kind": "alarm"}])
def test_what_is_no_message_is_held(team: Team, phone: Phone, text: Any) -> None:
    assert post(message(text)).json() == {"received": True, "reference": None}
    kept = PhoneMessage.objects.get()
    assert (kept.state, kept.reason) == (State.HELD, "unreadable")


def test_a_key_that_is_none_and_a_body_that_is_too_big_are_refused_in_words(db: Any) -> None:
    small = {"key_id": "a", "sealed": "b"}
    answer = Client().post(MESSAGES, small, content_type="application/json")
    assert answer.status_code == 400 and "Idempotency-Key" in answer.json()["fields"]
    headers = {"Idempotency-Key": str(uuid.uuid4())}
    big = {**small, "sealed": "b" * 132_000}
    answer = Client().post(MESSAGES, big, content_type="application/json", headers=headers)
    assert (answer.status_code, answer.json()["code"]) == (413, "too-large")
    assert not PhoneMessage.objects.exists()


def test_a_message_that_fails_on_our_side_is_kept_and_does_not_stop_the_next(
    phone: Phone, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(**_said: object) -> None:
        raise RuntimeError("disk on fire")

    with monkeypatch.context() as patched:
        patched.setattr("safety.services.phone.receive.message_place", broken)
        phone.report(uuid.uuid4())
    assert PhoneMessage.objects.get().reason == "failed" and "disk on fire" in caplog.text
    assert phone.report(uuid.uuid4())["reference"]
