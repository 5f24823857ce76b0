"""The phone's page as the service serves it: the same for all, its files by version, its words, the lead's crew."""

from __future__ import annotations

import ast
import json
import re
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from safety.models import AnimalSign, BodySite, Cause, Kind, Task
from safety.pages.phone.phone_choices import phone_choices
from safety.pages.phone.phone_files import shell
from safety.pages.phone.phone_words import phone_words
from staff.models import CrewRole, Outing, Person
from staff.services.outing.roster import roster_assign
from tests.factories import Team, give_doses, make_outing, make_person, make_user

pytestmark = pytest.mark.django_db
SCRIPTS = Path(__file__).parent.parent.parent.parent / "config" / "static" / "phone"


def served(name: str) -> str:
    """The file with its comment lines left empty."""
    lines = (SCRIPTS / name).read_text().split("\n")
    return "\n".join("" if line.lstrip().startswith("//") else line for line in lines)


def test_the_page_is_the_same_for_everybody_and_sets_no_cookie(client: Client, team: Team) -> None:
    nobody = client.get("/phone/")
    client.force_login(team.member)
    member = client.get("/phone/")
    assert nobody.content == member.content
    assert not nobody.cookies
    assert "no-cache" in nobody["Cache-Control"]
    assert client.get("/phone/", headers={"If-None-Match": nobody["ETag"]}).status_code == 304


def test_files_of_this_version_are_kept_for_good_and_of_another_not_at_all(client: Client) -> None:
    current = client.get(shell().address("app.js"))
    older = client.get("/phone/files/0123456789abcdef/app.js")
    assert current.content == older.content == served("app.js").encode()
    assert "immutable" in current["Cache-Control"]
    assert older["Cache-Control"] == "no-store"
    for name in ("nothing.js", "worker.js", "worker_off.js", "..%2Fapp.css"):
        assert client.get(f"/phone/files/{shell().version}/{name}").status_code == 404


def test_the_worker_is_told_every_file_and_gives_way_when_switched_off(client: Client, settings: Any) -> None:
    text = client.get("/phone/worker.js").content.decode()
    said = json.loads(text.removeprefix("const SHELL = ").split(";\n", 1)[0])
    names = {path.name for path in SCRIPTS.iterdir()} - {"worker.js", "worker_off.js"}
    assert set(said["addresses"]) == {"/phone/", *(shell().address(name) for name in names)}
    assert text.endswith(served("worker.js"))
    settings.PHONE_WORKER = False
    assert client.get("/phone/worker.js").content.decode() == served("worker_off.js")


def test_no_word_is_defined_twice() -> None:
    """The second would stand in the first one's place, unseen."""
    pages = SCRIPTS.parents[2] / "safety" / "pages"
    keys = [
        key.value
        for path in [*sorted(pages.glob("phone/phone_words*.py")), pages / "clinic" / "clinic_words.py"]
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Dict)
        for key in node.keys
        if isinstance(key, ast.Constant)
    ]
    assert set(keys) == set(phone_words())
    assert [key for key, times in Counter(keys).items() if times > 1] == []


def test_every_word_the_scripts_ask_for_is_there_and_every_word_is_asked_for() -> None:
    scripts = "\n".join(path.read_text() for path in sorted(SCRIPTS.glob("*.js")))
    words = set(phone_words())
    # t("code"), and codes handed on as text: t(sure ? "one" : "other"), show({ note: "code" }), lists of codes.
    quoted = set(re.findall(r'"([a-z_0-9]+)"', scripts))
    asked = set(re.findall(r'\bt\("([a-z_0-9]+)"', scripts))
    begun = tuple(re.findall(r"\bt\(`([a-z]+_)\$\{", scripts))
    # What a clinic has: t(`${name}_${state}`).
    begun += ("vaccine_", "immunoglobulin_")
    assert asked
    assert asked - words == set()
    assert {word for word in words - quoted if not word.startswith(begun)} == set()


def test_every_question_of_the_scripts_has_its_words_and_its_choices() -> None:
    scripts = (SCRIPTS / "questions.js").read_text()
    flows = scripts[scripts.index("const CONTACT") : scripts.index("const MANY")]
    questions = {"who", "kind", "washed", "licked", *re.findall(r'"([a-z]+)"', flows)}
    questions -= {"licked?"} | set(Kind.values)
    words, choices = phone_words(), phone_choices()
    assert {f"q_{question}" for question in questions} <= set(words)
    assert questions - {"who", "say"} <= set(choices)


def test_choices_are_those_the_service_reads_and_each_has_a_dont_know() -> None:
    choices = phone_choices()
    for name, of in (("kind", Kind), ("site", BodySite), ("task", Task), ("causes", Cause), ("signs", AnimalSign)):  # fmt: skip
        assert [value for value, _label in choices[name]] == of.values
    assert [name for name, pairs in choices.items() if "unknown" not in dict(pairs)] == ["kind"]


@pytest.fixture
def out_today(team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch) -> datetime:
    """The member is on an outing of today."""
    monkeypatch.setattr(timezone, "now", lambda: now)
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=0)
    put_on(team, team.person, outing, CrewRole.CATCHER, now)
    return now


def put_on(team: Team, person: Person, outing: Outing, role: str, now: datetime) -> None:
    give_doses(person, team.officer, now, 60, 53, 39)
    roster_assign(
        actor=team.officer, outing=outing, crew=outing.crews.get(), person=person, role=role, now=now
    )


def test_a_lead_takes_the_names_of_todays_crew_along_and_nobody_else_does(
    client: Client, team: Team, out_today: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    client.force_login(team.lead)
    said = client.get("/phone/crew/").json()
    assert said["people"] == [{"id": team.person.pk, "name": "Test Member"}]
    assert (said["area"], said["date"]) == ("Test Area", f"{team.site.local_date(out_today)}")
    ends = datetime.fromisoformat(said["ends_at"])
    assert team.site.local_date(ends - timedelta(seconds=1)) == team.site.local_date(out_today)
    assert team.site.local_date(ends) > team.site.local_date(out_today)

    monkeypatch.setattr(timezone, "now", lambda: ends)
    assert client.get("/phone/crew/").json()["people"] == []
    monkeypatch.setattr(timezone, "now", lambda: out_today)
    client.force_login(team.member)
    assert client.get("/phone/crew/").json()["people"] == []
    client.force_login(team.stranger)
    assert client.get("/phone/crew/").status_code == 403


def test_a_member_who_leads_one_outing_sees_the_others_of_it_and_of_no_other(
    client: Client, team: Team, out_today: datetime
) -> None:
    now = out_today
    mate = make_person(team.site, team.officer, now, number="8", name="Test Mate")
    mate.user = make_user("mate")
    mate.save()
    put_on(team, mate, Outing.objects.get(), CrewRole.LEAD, now)
    elsewhere, _crew = make_outing(team.site, team.officer, now, days_ahead=0)
    far = make_person(team.site, team.officer, now, number="9", name="Test Far")
    put_on(team, far, elsewhere, CrewRole.CATCHER, now)

    client.force_login(mate.user)
    assert [one["name"] for one in client.get("/phone/crew/").json()["people"]] == ["Test Member"]
    client.force_login(team.lead)
    names = [one["name"] for one in client.get("/phone/crew/").json()["people"]]
    assert names == ["Test Far", "Test Mate", "Test Member"]
