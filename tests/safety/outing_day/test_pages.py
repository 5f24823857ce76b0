"""The two pages of a crew's day, and what the outing's page shows of them."""

from __future__ import annotations

import html
import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from safety.models import CrewReturn, Departure, HandledTally
from staff.models import User
from staff.services.record.holds import hold_place
from tests.safety.outing_day.scenes import Day

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch, now: Any) -> None:
    monkeypatch.setattr(timezone, "now", lambda: now)


def client(user: User) -> Client:
    made = Client()
    made.force_login(user)
    return made


def text(answer: Any) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def address(day: Day, what: str) -> str:
    return f"/outings/{day.outing.pk}/crews/{day.crew.pk}/{what}/"


def outing(day: Day, user: User) -> Any:
    return client(user).get(f"/outings/{day.outing.pk}/")


def leaving(day: Day, **changes: Any) -> dict[str, Any]:
    said = {
        **dict.fromkeys((*(f"here{pk}" for pk in day.here()), "helmets", "clothing", "kit"), "yes"),
        **dict.fromkeys(("briefing", "clinic_open", "vaccine", "immunoglobulin"), "yes"),
        "clinic": day.team.clinic.pk,
    }
    return said | changes


BACK = {
    "hours": "5", "people": "4", "dogs": "84", "task-netting": "84", "none_said": "on",
    "sharps_disposed": "yes", "sharps_note": "clinic",
}  # fmt: skip


def test_the_lead_answers_and_the_outings_page_says_so(day: Day) -> None:
    answer = client(day.head).post(address(day, "leaving"), leaving(day), follow=True)
    assert answer.redirect_chain and Departure.objects.count() == 1
    assert "left at 09:00" in text(answer)
    assert "how it left" in text(outing(day, day.head)).casefold()


def test_no_answer_is_given_beforehand_and_every_one_is_asked_for(day: Day) -> None:
    page = client(day.head).get(address(day, "leaving")).content.decode()
    assert not re.findall(r"<input[^>]*value=\"yes\"[^>]*checked", page)
    answer = client(day.head).post(address(day, "leaving"), {})
    shown = answer.content.decode()
    assert answer.status_code == 400 and "error-summary" in shown and not Departure.objects.exists()
    for name in ("helmets", "clothing", "kit", "briefing", "clinic_open", f"here{day.people['lead'].pk}"):
        assert f'href="#id_{name}_0"' in shown


def test_what_is_missing_is_asked_for_in_words_beside_its_field(day: Day) -> None:
    answer = client(day.head).post(address(day, "leaving"), leaving(day, kit="no"))
    assert answer.status_code == 400 and "leaves without the whole kit" in text(answer)
    said = leaving(day, kit="no", missing_reason="no soap in the shop")
    assert client(day.head).post(address(day, "leaving"), said).status_code == 302


def test_why_it_left_without_is_read_by_the_desk_and_the_leads_alone(day: Day) -> None:
    said = leaving(day, helmets="no", missing_reason="the spare ones are wet")
    client(day.head).post(address(day, "leaving"), said)
    catcher = day.people["catcher"]
    catcher.user = day.team.member
    day.team.person.user = None
    day.team.person.save()
    catcher.save()
    for user, reads in (
        (day.team.officer, True), (day.team.liaison, True), (day.team.lead, True), (day.head, True),
        (day.team.member, False),
    ):  # fmt: skip
        shown = text(outing(day, user))
        assert "without: helmets" in shown and ("the spare ones are wet" in shown) is reads


def test_a_swap_on_the_spot_goes_through_the_page(day: Day) -> None:
    gone = day.people["catcher"].pk
    page = client(day.head).get(address(day, "leaving")).content.decode()
    assert page.count("Test Spare (spare)") == len(day.people) + 2
    said = {f"here{gone}": "no", f"why{gone}": "slept in", f"instead{gone}": day.spare.pk}
    assert client(day.head).post(address(day, "leaving"), leaving(day, **said)).status_code == 302
    assert day.crew.assignments.get(person=day.spare).role == "catcher"
    shown = text(client(day.head).get(address(day, "leaving")))
    assert "in place of Test Catcher" in shown and "absent" in shown


def test_an_uncleared_replacement_is_refused_on_the_page_without_its_reasons(day: Day) -> None:
    hold_place(
        actor=day.team.officer, person=day.spare, starts_on=day.outing.date, reason="a scan", now=day.now
    )
    gone = day.people["catcher"].pk
    assert "Test Spare" not in text(client(day.head).get(address(day, "leaving")))
    said = leaving(day, **{f"here{gone}": "no", f"why{gone}": "slept in", f"instead{gone}": day.spare.pk})
    answer = client(day.head).post(address(day, "leaving"), said)
    assert answer.status_code == 409 and "Test Spare is not clear" in text(answer)
    assert "a scan" not in text(answer) and not Departure.objects.exists()
    answer = client(day.team.officer).post(address(day, "leaving"), said)
    assert answer.status_code == 409 and "a scan" in text(answer)


def test_answers_that_contradict_each_other_are_pointed_out(day: Day) -> None:
    key = day.people["catcher"].pk
    for said, words in (
        ({f"here{key}": "no"}, "Say why"),
        ({f"instead{key}": day.spare.pk}, "This person is here"),
        ({"joins1": day.spare.pk}, "or neither"),
        ({"clinic": ""}, "Say which clinic"),
    ):
        answer = client(day.head).post(address(day, "leaving"), leaving(day, **said))
        assert answer.status_code == 400 and words in text(answer)
    assert not Departure.objects.exists()


@pytest.mark.parametrize("what", ["leaving", "back"])
def test_somebody_on_the_crew_who_does_not_lead_it_and_a_stranger_find_nothing(day: Day, what: str) -> None:
    catcher = day.people["vaccinator"]
    catcher.user = User.objects.create(username="vaccinator")
    catcher.save()
    for user in (catcher.user, day.team.stranger):
        assert client(user).get(address(day, what)).status_code == 404
    assert "Before leaving" not in text(outing(day, catcher.user))
    other = day.outing.crews.create(name="Crew 2")
    assert (
        client(day.head).get(address(day, what).replace(f"/{day.crew.pk}/", f"/{other.pk}/")).status_code
        == 404
    )


def test_the_return_is_filled_in_with_the_phones_counts_and_says_so(day: Day) -> None:
    page = client(day.head).get(address(day, "back")).content.decode()
    assert "phones of this crew" not in page and 'value="4"' in page
    HandledTally.objects.create(
        site=day.team.site, sender=day.spare, outing=day.outing, date=day.outing.date, task="netting",
        count=77, made_at=day.now,
    )  # fmt: skip
    page = client(day.head).get(address(day, "back")).content.decode()
    assert "phones of this crew" in page and page.count('value="77"') == 2
    answer = client(day.head).post(address(day, "back"), BACK, follow=True)
    assert "84 dogs, 5 h × 4" in text(answer)
    assert {row.task: row.dogs for row in CrewReturn.objects.get().tallies.all()} == {"netting": 84}


def test_silence_about_incidents_is_refused(day: Day) -> None:
    said = {name: value for name, value in BACK.items() if name != "none_said"}
    answer = client(day.head).post(address(day, "back"), said)
    assert answer.status_code == 400 and "isn't “none”" in text(answer) and not CrewReturn.objects.exists()


def test_sent_twice_is_refused_and_shows_what_stands(day: Day) -> None:
    for what, said in (("leaving", leaving(day)), ("back", BACK)):
        assert client(day.head).post(address(day, what), said).status_code == 302
        answer = client(day.team.lead).post(address(day, what), said)
        assert answer.status_code == 409 and "recorded already" in text(answer)
    assert Departure.objects.count() == CrewReturn.objects.count() == 1


@pytest.mark.parametrize("what", ["leaving", "back"])
def test_a_void_asks_why_and_the_questions_come_back(day: Day, what: str) -> None:
    void = f"{address(day, what)}void/"
    assert client(day.head).get(void).status_code == 404
    day.leave() if what == "leaving" else day.back()
    assert "Void it" in text(client(day.head).get(address(day, what)))
    assert client(day.head).post(void, {"reason": ""}).status_code == 400
    assert client(day.head).post(void, {"reason": "wrong crew"}).status_code == 302
    assert "Record that the crew" in text(client(day.head).get(address(day, what)))


def test_before_the_day_and_after_it_the_pages_say_why_they_ask_nothing(
    day: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    for days, left, back in (
        (-1, "not before", "still ahead"),
        (8, "the day is over", "week for it is over"),
    ):
        at = day.now + timedelta(days=days)
        monkeypatch.setattr(timezone, "now", lambda at=at: at)
        assert left in text(client(day.head).get(address(day, "leaving")))
        assert back in text(client(day.head).get(address(day, "back")))
        assert "Before leaving" not in text(outing(day, day.head))
        assert client(day.head).post(address(day, "leaving"), leaving(day)).status_code == 409
        assert client(day.head).post(address(day, "back"), BACK).status_code == 409
