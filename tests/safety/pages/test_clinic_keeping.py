"""Keeping the list: place, hours in the open syntax, language, and the coming week before it is kept."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from safety.models import Clinic
from staff.models import AuditEntry, SiteHoliday
from tests.factories import Team
from tests.safety.pages.scenes import real_now, signed_in_as, text_of

pytestmark = pytest.mark.django_db


def said(**changed: str) -> dict[str, str]:
    return {
        "vaccine": "yes",
        "immunoglobulin": "no",
        "phone": "000 2",
        "address": "",
        "hours": "Mo-Fr 08:00-17:00; PH off",
        "place": "-1.29210, 36.82190",
        "language": "fr",
        "active": "on",
    } | changed


def post(team: Team, **changed: str) -> Any:
    url = reverse("clinic-confirm", args=[team.clinic.pk])
    return signed_in_as(team.liaison).post(url, said(**changed))


@pytest.mark.parametrize(
    ("typed", "place"),
    [
        ("-1.29210, 36.82190", (-1.2921, 36.8219)),
        ("-1.2921,36.8219", (-1.2921, 36.8219)),
        ("−1.2921 36.8219", (-1.2921, 36.8219)),
        ("geo:-1.2921,36.8219", (-1.2921, 36.8219)),
        ("90, 180", (90.0, 180.0)),
        ("", (None, None)),
    ],
)
def test_a_place_is_taken_as_maps_show_it(team: Team, typed: str, place: tuple[float | None, ...]) -> None:
    assert post(team, place=typed).status_code == 302
    clinic = Clinic.objects.get(pk=team.clinic.pk)
    assert (clinic.latitude, clinic.longitude) == place


@pytest.mark.parametrize(
    "typed", ["90.1, 0", "0, 180.1", "36.8", "1°17'S 36°49'E", "-1,2921, 36,8219", "nan, 0"]
)
def test_a_place_that_is_none_is_refused_with_what_to_type_and_nothing_is_kept(
    team: Team, typed: str
) -> None:
    answer = post(team, place=typed)
    assert answer.status_code == 400 and answer.context["form"].errors["place"]
    assert Clinic.objects.get(pk=team.clinic.pk).confirmed_on is None


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("8-17", "Write days as Mo Tu We"),
        ("Mo-Fr 08:00+", "Say when it closes"),
        ("sunrise-sunset", "clock times"),
        ("Mo-Fr 08:00-17:00; PH +1 day off", "a rule of their own"),
        ("Mo-Fr 08:00-17:00; SH off", "School holidays"),
    ],
)
def test_hours_that_cant_be_read_are_refused_with_an_example(team: Team, typed: str, words: str) -> None:
    answer = post(team, hours=typed)
    assert answer.status_code == 400 and words in answer.context["form"].errors["hours"][0]
    assert Clinic.objects.get(pk=team.clinic.pk).hours == ""


def test_hours_written_before_they_had_to_be_readable_stay_and_count_as_not_known(team: Team) -> None:
    Clinic.objects.update(hours="mornings, ask on Wednesdays")
    assert post(team, hours="mornings, ask on Wednesdays").status_code == 302
    page = text_of(signed_in_as(team.liaison).get(reverse("clinics")))
    assert "mornings, ask on Wednesdays" in page and "never as open" in page
    assert post(team, hours="mornings only").status_code == 400


def test_the_coming_week_is_shown_before_anything_is_kept(team: Team) -> None:
    today = team.site.local_date(real_now())
    SiteHoliday.objects.create(site=team.site, date=today, name="Test Day")
    answer = post(team, hours="Mo-Su 09:15-12:30; PH 20:00-02:00", look="1")
    week = answer.context["week"]
    assert answer.status_code == 200 and Clinic.objects.get(pk=team.clinic.pk).confirmed_on is None
    assert [one.times for one in week][:3] == [
        ["20:00–24:00"],
        ["09:15–12:30"],
        ["09:15–12:30"],
    ]
    assert "09:15–12:30" in text_of(answer)


def test_what_changed_is_in_the_audit_trail_old_and_new(team: Team) -> None:
    post(team)
    entry = AuditEntry.objects.get(action="clinic.confirmed")
    assert entry.detail["old"]["hours"] == "" and entry.detail["new"]["hours"] == "Mo-Fr 08:00-17:00; PH off"
    assert entry.detail["new"]["language"] == "fr" and "address" not in entry.detail["new"]


def test_a_language_no_letter_is_written_in_is_refused(team: Team) -> None:
    assert post(team, language="xx").status_code == 400


def test_the_form_shows_the_clinic_as_it_stands(team: Team) -> None:
    post(team)
    url = reverse("clinic-confirm", args=[team.clinic.pk])
    form = signed_in_as(team.liaison).get(url).context["form"]
    assert form["place"].value() == "-1.29210, 36.82190" and form["language"].value() == "fr"
