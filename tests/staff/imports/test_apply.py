"""Bringing a list in: whole or not at all, once, and only by the site's officer."""

from __future__ import annotations

import sys
from datetime import date, datetime
from importlib import util
from pathlib import Path

import pytest
from django.db import IntegrityError

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.models import AuditEntry, Clearance, Dose, Person
from staff.rules.importing.dates import DateFormat
from staff.selectors.record.readiness import readiness_of
from staff.selectors.record.records import clearance_of
from staff.services.importing import apply as apply_module
from staff.services.importing.apply import Import, import_apply
from staff.services.importing.files import sheet_read
from staff.services.importing.plan import fingerprint, run
from staff.services.record.records import dose_void
from tests.factories import Team, give_doses
from tests.staff.imports.lists import FIXTURES, bring_in, check, choose, codes, everything, lines

pytestmark = pytest.mark.django_db

HEADER = "Number,Name,E-mail,Telephone,Crew roles,Route,Product,Dose 1,Dose 2,Dose 3"
FULL = "9,Ba Lo,ba@example.org,+000 1,catcher,IM,vaccine A,2026-01-05,2026-01-12,2026-01-26"
BY_DOSE = lines(
    "Number,Name,E-mail,Telephone,Crew roles,Route,Product,Dose date",
    "9,Ba Lo,ba@example.org,,catcher,IM,vaccine A,2026-01-12",
    "9,,,+000 1,,IM,vaccine A,2026-01-05",
    "9,Ba Lo,,,,IM,vaccine A,2026-01-26",
)


def test_a_person_with_three_doses_is_brought_in_and_clear(team: Team, now: datetime) -> None:
    counts = bring_in(team.officer, team.site, now, lines(HEADER, FULL))
    person = Person.objects.get(number="9")
    assert (person.name, person.email, person.phone) == ("Ba Lo", "ba@example.org", "+000 1")
    assert [role.role for role in person.crew_roles.all()] == ["catcher"]
    assert [dose.given_on for dose in person.doses.all()] == [
        date(2026, 1, 5),
        date(2026, 1, 12),
        date(2026, 1, 26),
    ]
    assert readiness_of(person, team.site.local_date(now)).clear
    assert counts == {
        "people_added": 1, "people_changed": 0, "people_unchanged": 0, "doses_added": 3, "doses_unchanged": 0,
        "briefings_added": 0, "briefings_unchanged": 0,
    }  # fmt: skip


def test_doses_nobody_saw_a_document_for_are_kept_and_clear_no_one(team: Team, now: datetime) -> None:
    bring_in(team.officer, team.site, now, lines(HEADER, FULL), evidence="none")
    person = Person.objects.get(number="9")
    assert person.doses.count() == 3
    assert not readiness_of(person, team.site.local_date(now)).clear


@pytest.mark.parametrize("evidence", ["", "surely"])
def test_without_the_evidence_stated_nothing_is_written(team: Team, now: datetime, evidence: str) -> None:
    before = everything()
    with pytest.raises(Invalid) as caught:
        bring_in(team.officer, team.site, now, lines(HEADER, FULL), evidence=evidence)
    assert "evidence" in caught.value.fields
    assert everything() == before


@pytest.mark.parametrize("name", ["stranger", "liaison", "lead", "member"])
def test_nobody_but_the_sites_officer_imports(team: Team, now: datetime, name: str) -> None:
    before = everything()
    with pytest.raises(NotAllowed):
        bring_in(getattr(team, name), team.site, now, lines(HEADER, FULL))
    assert everything() == before


def test_the_same_list_again_changes_nothing_at_all(team: Team, now: datetime) -> None:
    bring_in(team.officer, team.site, now, lines(HEADER, FULL))
    before = everything()
    counts = bring_in(team.officer, team.site, now, lines(HEADER, FULL))
    assert everything() == before
    assert (counts["people_unchanged"], counts["doses_unchanged"], counts["doses_added"]) == (1, 3, 0)


def test_one_row_a_dose_gives_the_same_record_as_one_row_a_person(team: Team, now: datetime) -> None:
    bring_in(team.officer, team.site, now, lines(HEADER, FULL))
    by_person = everything()
    counts = bring_in(team.officer, team.site, now, BY_DOSE)
    assert everything() == by_person
    assert counts["doses_unchanged"] == 3


def test_blank_cells_never_erase_and_new_contact_data_replace_the_old(team: Team, now: datetime) -> None:
    bring_in(team.officer, team.site, now, lines(HEADER, FULL))
    counts = bring_in(team.officer, team.site, now, lines(HEADER, "9,,,+000 2,driver,,,,,"))
    person = Person.objects.get(number="9")
    assert (person.name, person.email, person.phone) == ("Ba Lo", "ba@example.org", "+000 2")
    assert {role.role for role in person.crew_roles.all()} == {"catcher", "driver"}
    assert (counts["people_changed"], counts["doses_added"]) == (1, 0)
    entry = AuditEntry.objects.get(action="person.changed", person=person)
    assert (entry.detail["old"], entry.detail["new"]) == ({"phone": "+000 1"}, {"phone": "+000 2"})


def test_another_name_for_a_number_is_noted_and_ours_is_kept(team: Team, now: datetime) -> None:
    content = lines(HEADER, "7,Other Name,,,,,,,,")
    assert codes(check(team.site, now, content).notes) == [("name-differs", 2, 1)]
    bring_in(team.officer, team.site, now, content)
    assert Person.objects.get(pk=team.person.pk).name == "Test Member"


def test_a_voided_dose_stays_voided(team: Team, now: datetime) -> None:
    [dose] = give_doses(team.person, team.officer, now, 20)
    dose_void(actor=team.officer, dose=dose, reason="entered for the wrong person", now=now)
    content = lines(HEADER, f"7,,,,,,,{dose.given_on.isoformat()},,")
    assert codes(check(team.site, now, content).notes) == [("dose-voided", 2, 7)]
    before = everything()
    bring_in(team.officer, team.site, now, content)
    assert everything() == before


def test_the_same_number_at_another_site_is_another_person(team: Team, now: datetime) -> None:
    bring_in(team.stranger, team.other_site, now, lines(HEADER, "7,Somebody Else,,,,,,2026-01-05,,"))
    assert Person.objects.filter(number="7").count() == 2
    assert not team.person.doses.exists()


def test_one_bad_row_keeps_the_whole_list_out(team: Team, now: datetime) -> None:
    before = everything()
    with pytest.raises(Invalid, match="nothing was written"):
        bring_in(team.officer, team.site, now, lines(HEADER, FULL, "8,Lo,,,,,,03/04/2026,,"))
    assert everything() == before


@pytest.mark.parametrize("door", ["clearance_refresh", "audit_write"])
def test_a_fault_in_the_middle_of_writing_leaves_nothing(
    team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch, door: str
) -> None:
    real, calls = getattr(apply_module, door), []

    def failing(**given: object) -> object:
        calls.append(given)
        if len(calls) == 3:
            raise RuntimeError("the power went")
        return real(**given)

    before = everything()
    monkeypatch.setattr(apply_module, door, failing)
    with pytest.raises(RuntimeError, match="the power went"):
        bring_in(
            team.officer,
            team.site,
            now,
            lines(HEADER, *(f"{n},P{n},,,,,,2026-01-05,," for n in range(20, 30))),
        )
    assert len(calls) == 3
    assert everything() == before


def test_whoever_leaves_in_the_middle_leaves_nothing(team: Team, now: datetime) -> None:
    content = lines(HEADER, *(f"{n},P{n},,,,,,2026-01-05,," for n in range(20, 60)))
    what = Import(team.officer, team.site, sheet_read(content=content), choose(content), "list.csv")
    before = everything()
    steps = import_apply(what=what, now=now)
    progress = next(steps)
    while progress.phase != "write":
        progress = next(steps)
    assert Person.objects.filter(number="20").exists()
    steps.close()
    assert everything() == before


def test_a_list_that_would_now_do_something_else_is_refused(team: Team, now: datetime) -> None:
    content = lines(HEADER, FULL)
    seen = fingerprint(choose(content), check(team.site, now, content))
    bring_in(team.officer, team.site, now, lines(HEADER, "9,Ba Lo,,,,,,2026-01-05,,"))
    what = Import(team.officer, team.site, sheet_read(content=content), choose(content), "list.csv")
    before = everything()
    with pytest.raises(Conflict, match="changed since you looked"):
        run(import_apply(what=what, now=now, seen=seen))
    assert everything() == before


def test_a_person_added_meanwhile_by_another_door_is_refused_in_words(
    team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    def taken(*_: object) -> None:
        raise IntegrityError("staff_number_once_a_site")

    before = everything()
    monkeypatch.setattr(apply_module, "_people", taken)
    with pytest.raises(Conflict, match="meanwhile"):
        bring_in(team.officer, team.site, now, lines(HEADER, FULL))
    assert everything() == before


def test_each_person_and_the_list_leave_audit_rows_and_a_list_on_record_leaves_none(
    team: Team, now: datetime
) -> None:
    start = AuditEntry.objects.count()
    bring_in(team.officer, team.site, now, lines(HEADER, FULL, "8,Lo,,,,,,,,"))
    entries = AuditEntry.objects.order_by("pk")[start:]
    assert [(entry.action, entry.person and entry.person.number) for entry in entries] == [
        ("person.added", "9"),
        ("doses.imported", "9"),
        ("person.added", "8"),
        ("import.applied", None),
    ]
    assert all(entry.actor == team.officer and entry.site == team.site for entry in entries)


def sample(name: str) -> bytes:
    return Path(FIXTURES / name).read_bytes()


def test_the_sample_of_200_people_and_550_doses_comes_in_from_either_file(team: Team, now: datetime) -> None:
    later = now.replace(year=2026, month=11, day=25)
    from_csv = bring_in(team.officer, team.site, later, sample("staff_sample.csv"), DateFormat.DAY_FIRST)
    assert (from_csv["people_added"], from_csv["doses_added"]) == (200, 550)
    before = everything()
    again = bring_in(team.officer, team.site, later, sample("staff_sample.xlsx"), DateFormat.DAY_FIRST)
    assert (again["people_unchanged"], again["doses_unchanged"]) == (200, 550)
    assert everything() == before


def test_stored_clearance_after_the_sample_is_what_the_record_gives(team: Team, now: datetime) -> None:
    later = now.replace(year=2026, month=11, day=25)
    bring_in(team.officer, team.site, later, sample("staff_sample.csv"), DateFormat.DAY_FIRST)
    cleared = 0
    for person in Person.objects.filter(site=team.site).select_related("site__rules"):
        stored = [
            row.as_interval() for row in Clearance.objects.filter(person=person, superseded_on__isnull=True)
        ]
        assert sorted(stored, key=lambda gap: gap.starts_on) == list(clearance_of(person).intervals)
        cleared += bool(stored)
    assert 50 < cleared < 200


def test_the_sample_is_refused_whole_until_its_dates_are_said_to_be_day_first(
    team: Team, now: datetime
) -> None:
    later = now.replace(year=2026, month=11, day=25)
    for chosen in (DateFormat.ISO, DateFormat.MONTH_FIRST):
        with pytest.raises(Invalid):
            bring_in(team.officer, team.site, later, sample("staff_sample.csv"), chosen)
    assert Dose.objects.count() == 0


def test_the_sample_is_what_its_maker_makes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spec = util.spec_from_file_location("make_staff_sample", FIXTURES / "make_staff_sample.py")
    assert spec and spec.loader
    maker = util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "make_staff_sample", maker)
    spec.loader.exec_module(maker)
    monkeypatch.setattr(maker, "FOLDER", tmp_path)
    maker.main()
    for name in ("staff_sample.csv", "staff_sample_problems.csv"):
        assert (tmp_path / name).read_bytes() == sample(name)
    # A workbook holds the time it was written, so its cells are compared.
    made = sheet_read(content=(tmp_path / "staff_sample.xlsx").read_bytes())
    assert made == sheet_read(content=sample("staff_sample.xlsx"))
