"""What the letter says, and what it leaves to the clinician."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils.formats import date_format

from safety.letter.languages import letter_languages
from safety.letter.shape import Letter, Section
from safety.models import Incident, Wound
from staff.ground.dates import add_months
from staff.models import Purpose, Regimen, RegimenApproval, SiteRules
from staff.services.record.records import dose_record
from tests.factories import Team, approve, give_doses
from tests.safety.letter.scenes import plain_case, written
from tests.safety.pages.scenes import make_case, real_now

pytestmark = pytest.mark.django_db


def rows(section: Section) -> dict[str, str]:
    return {row.label: row.text for row in section.rows}


def letter(team: Team, incident: Incident) -> Letter:
    return written(Incident.objects.get(pk=incident.pk), team, real_now())


def test_the_facts_of_the_exposure_stand_as_they_were_reported(team: Team) -> None:
    _person, happened, suggested = letter(team, plain_case(team, real_now())).sections
    facts = rows(happened)
    assert facts["Washing"] == (
        "6 min 00 s; soap: yes; running water: yes; antiseptic: yes. Short of the 15 minutes asked for."
    )
    assert facts["Contact"] == "bitten; hand or fingers; skin broken: yes; bled: yes; deep: don't know"
    assert facts["Where"] == "-1.29210, 36.82190 (to within 12 m)"
    assert facts["Animal"].startswith("roaming dog; collar: no; owner known: no; can be watched: no")
    assert (
        "drooled or couldn't swallow" in facts["Animal"] and facts["Task, causes"] == "collaring; bare hands"
    )
    assert rows(suggested)["Category (WHO)"].startswith("Category III.")
    assert rows(suggested)["Urgency"] == "To be seen the same day, with more urgency: Hand or fingers."
    assert suggested.title == "Suggested by the answers; the clinician decides"


def test_not_washed_and_not_recorded_stay_apart(team: Team) -> None:
    assert rows(letter(team, make_case(team, washed_minutes=0)).sections[1])["Washing"].startswith(
        "Not washed"
    )
    assert rows(letter(team, make_case(team)).sections[1])["Washing"].startswith("Not recorded")


def test_an_exposure_nobody_described_yet_says_that_answers_are_missing(team: Team) -> None:
    incident = make_case(team, wounds=())
    Incident.objects.filter(pk=incident.pk).update(details_at=None)
    happened = letter(team, incident).sections[1]
    assert "aren't all in yet" in happened.notes[0] and rows(happened)["Contact"] == "not described"


def test_the_record_says_which_doses_count_and_why_others_dont(team: Team) -> None:
    # Days 0, 6, 7 and 21: no grace days, day 6 does not count and day 7 does (CDC CDSi 4.64, Rabies).
    give_doses(team.person, team.officer, real_now(), 60, 54, 53, 39)
    made = letter(team, make_case(team))
    assert [dose.counts for dose in made.doses] == [
        "counts as dose 1",
        "doesn't count: 1 day too early.",
        "counts as dose 2",
        "counts as dose 3",
    ]
    assert made.record.notes[0].startswith("A complete series is on record since")


def listed(team: Team, incident: Incident) -> list[str]:
    section = letter(team, incident).listed
    return [row.text for row in section.rows] or list(section.notes)


def test_somebody_not_immunised_gets_the_approved_table_for_the_not_immunised(team: Team) -> None:
    assert listed(team, make_case(team)) == [
        "days 0, 3, 7, 14, 28; in the table: pep-im-0-3-7-14-28, version 1"
    ]


def test_somebody_immunised_gets_the_approved_table_for_the_immunised(team: Team) -> None:
    give_doses(team.person, team.officer, real_now(), 60, 53, 39)
    assert listed(team, make_case(team)) == ["days 0, 3; in the table: pep-immunised-im-0-3, version 1"]


def test_doses_given_since_the_exposure_dont_make_anybody_immunised_before_it(team: Team) -> None:
    give_doses(team.person, team.officer, real_now(), 30, 23, 9)
    assert "pep-immunised" in listed(team, make_case(team, days_ago=8))[0]
    assert "pep-im-0-3-7-14-28" in listed(team, make_case(team, days_ago=9))[0]


def test_injections_on_one_day_and_windows_are_shown(team: Team) -> None:
    two_first = Regimen.objects.get(purpose=Purpose.POST_EXPOSURE, routes=["IM"], steps__injections=2)
    approve(team.site, team.officer, two_first.code)
    assert any(line.startswith("days 0 (×2), 7, 21;") for line in listed(team, make_case(team)))


def test_an_unapproved_or_withdrawn_regimen_is_never_listed(team: Team) -> None:
    RegimenApproval.objects.filter(site=team.site, regimen__purpose=Purpose.POST_EXPOSURE).update(
        withdrawn_at=real_now(), withdrawn_by=team.officer, withdraw_reason="letter 2"
    )
    assert listed(team, make_case(team)) == ["The authority has approved no regimen for such a case."]


def test_where_tables_disagree_nothing_is_listed_and_the_clinician_is_asked(team: Team) -> None:
    team.person.immunocompromised = True
    team.person.save()
    assert "immunocompromised, so none is listed" in listed(team, make_case(team))[0]
    team.person.immunocompromised = False
    team.person.save()
    now = real_now()
    dose_record(
        actor=team.officer,
        person=team.person,
        given_on=team.site.local_date(now) - timedelta(days=30),
        purpose=Purpose.POST_EXPOSURE,
        regimen=team.post_exposure,
        now=now,
    )
    assert "soon after a course, so none is listed" in listed(team, make_case(team))[0]


def test_no_exposure_lists_nothing(team: Team) -> None:
    near_miss = make_case(team, kind="near-miss", wounds=())
    made = letter(team, near_miss)
    assert made.listed.notes == ("Nothing reported so far is an exposure, so none is listed.",)
    assert "Urgency" not in rows(made.sections[2])


def test_several_wounds_are_all_there_and_raise_the_urgency(team: Team) -> None:
    incident = make_case(team)
    Wound.objects.create(incident=incident, contact="bitten", body_site="leg", broke_skin="yes", deep="yes")
    _person, happened, suggested = letter(team, incident).sections
    assert [row.label for row in happened.rows].count("Contact") == 2
    assert rows(suggested)["Urgency"].endswith("Hand or fingers. A deep wound. Several wounds.")


def test_the_strip_asks_in_the_order_in_which_it_is_typed_in_and_names_nobody(team: Team) -> None:
    made = letter(team, plain_case(team, real_now()))
    assert made.strip_fields == (
        "Seen on",
        "Decision",
        "Regimen",
        "Doses given (dates)",
        "Immunoglobulin",
        "Next date",
        "Signature",
    )
    assert team.person.name not in made.strip_title + made.strip_note


def test_the_sites_language_comes_first_and_the_clinics_next(team: Team) -> None:
    def codes() -> list[str]:
        return [one.code for one in letter_languages(team.site, team.clinic)]

    assert codes() == ["en", "fr", "es"]
    team.clinic.language = "es"
    assert codes() == ["en", "es", "fr"]
    team.site.language = "fr"
    assert codes() == ["fr", "es", "en"]
    team.site.language = "sw"
    assert codes()[0] == "en"


@pytest.mark.parametrize("blocks", [True, False])
def test_a_series_that_lapsed_by_the_sites_own_rule_is_said_to_have_lapsed(team: Team, blocks: bool) -> None:
    """Said whether the lapse blocks or only advises. The term of a month is the test's own, no published one."""
    now = real_now()
    incident = plain_case(team, now)
    SiteRules.objects.filter(site=team.site).update(recheck_months=1, lapse_blocks=blocks)
    incident = Incident.objects.get(pk=incident.pk)
    notes = " ".join(written(incident, team, now).record.notes)
    complete_on = team.site.local_date(now) - timedelta(days=39)
    lapsed_on = date_format(add_months(complete_on, 1) + timedelta(days=1), "DATE_FORMAT")
    assert "A complete series is on record" in notes
    assert f"it lapsed on {lapsed_on}; the clinician decides" in notes


def test_a_series_that_holds_by_the_sites_own_rule_is_not_said_to_have_lapsed(team: Team) -> None:
    now = real_now()
    notes = " ".join(written(plain_case(team, now), team, now).record.notes)
    assert "lapsed" not in notes
