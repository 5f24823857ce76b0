"""Adding to a record and taking back: what is kept, and what is refused in words."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils.formats import date_format

from staff.models import Dose, Regimen, SiteRules
from staff.selectors.record.readiness import readiness_of
from tests.factories import PRE_EXPOSURE, Team, give_doses, make_outing
from tests.staff.pages.scenes import clear_person, real_now, signed_in_as


def _today(team: Team) -> date:
    return team.site.local_date(real_now())


def _dose(team: Team, **changes: Any) -> dict[str, Any]:
    return {"given_on": _today(team), "purpose": "pre-exposure", "evidence": "certificate-seen", **changes}


def _post(team: Team, name: str, pk: int, data: dict[str, Any]) -> Any:
    return signed_in_as(team.officer).post(reverse(name, args=[pk]), data)


def test_a_dose_is_added_and_the_reader_goes_back_to_the_record(team: Team) -> None:
    response = _post(team, "dose-add", team.person.pk, _dose(team, route="IM", batch="B1"))
    assert response["Location"] == reverse("person", args=[team.person.pk])
    dose = team.person.doses.get()
    assert (dose.route, dose.batch, dose.recorded_by) == ("IM", "B1", team.officer)


def test_the_liaison_may_add_a_dose(team: Team) -> None:
    url = reverse("dose-add", args=[team.person.pk])
    assert signed_in_as(team.liaison).post(url, _dose(team)).status_code == 302
    assert team.person.doses.count() == 1


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"given_on": ""}, "given_on"),
        ({"evidence": ""}, "evidence_0"),
        ({"injections": "0"}, "injections"),
        ({"purpose": "fun"}, "purpose"),
    ],
)
def test_a_dose_with_a_hole_is_not_kept_and_the_hole_is_linked(
    team: Team, changes: dict[str, str], field: str
) -> None:
    response = _post(team, "dose-add", team.person.pk, _dose(team, **changes))
    assert response.status_code == 400
    assert f'href="#id_{field}"' in response.content.decode()
    assert not team.person.doses.exists()


def test_a_dose_in_the_future_is_refused(team: Team) -> None:
    response = _post(team, "dose-add", team.person.pk, _dose(team, given_on=_today(team) + timedelta(days=2)))
    assert response.status_code == 400
    assert "is in the future" in response.content.decode()


def test_a_second_dose_on_one_day_is_refused(team: Team) -> None:
    give_doses(team.person, team.officer, real_now(), 0)
    response = _post(team, "dose-add", team.person.pk, _dose(team))
    assert response.status_code == 409
    assert "on record already" in response.content.decode()


def test_a_regimen_of_another_purpose_is_refused(team: Team) -> None:
    data = _dose(team, regimen=team.post_exposure.pk)
    response = _post(team, "dose-add", team.person.pk, data)
    assert response.status_code == 400
    assert "another purpose" in response.content.decode()


def test_voiding_asks_why_and_happens_once(team: Team) -> None:
    dose = give_doses(team.person, team.officer, real_now(), 5)[0]
    assert _post(team, "dose-void", dose.pk, {"reason": " "}).status_code == 400
    assert Dose.objects.get(pk=dose.pk).voided_at is None
    assert _post(team, "dose-void", dose.pk, {"reason": "wrong person"}).status_code == 302
    assert Dose.everything.get(pk=dose.pk).void_reason == "wrong person"
    again = _post(team, "dose-void", dose.pk, {"reason": "twice"})
    assert again.status_code == 409
    assert "voided already" in again.content.decode()


def test_titres_are_kept_to_two_decimals_and_never_below_zero(team: Team) -> None:
    data = {"taken_on": _today(team), "iu_per_ml": "0.49", "evidence": "report-seen"}
    assert _post(team, "titre-add", team.person.pk, data).status_code == 302
    assert str(team.person.titres.get().iu_per_ml) == "0.49"
    assert _post(team, "titre-add", team.person.pk, data | {"iu_per_ml": "-1"}).status_code == 400
    assert _post(team, "titre-add", team.person.pk, data).status_code == 409


@pytest.mark.parametrize(("value", "asked"), [("100.00", False), ("100.01", True), ("500", True)])
def test_a_titre_that_may_be_a_slip_is_asked_about(team: Team, value: str, asked: bool) -> None:
    data = {"taken_on": _today(team), "iu_per_ml": value, "evidence": "report-seen"}
    answer = _post(team, "titre-add", team.person.pk, data)
    assert answer.status_code == (400 if asked else 302)
    if asked:
        assert "look at the report again" in str(answer.context["form"].errors["as_reported"])
        assert not team.person.titres.exists()
        assert _post(team, "titre-add", team.person.pk, data | {"as_reported": "on"}).status_code == 302


@pytest.mark.parametrize(("evidence", "clear"), [("report-seen", True), ("none", False)])
def test_a_titre_clears_only_once_its_report_was_seen(team: Team, evidence: str, clear: bool) -> None:
    """The re-check is overdue: an adequate titre renews it, a titre without a report doesn't."""
    SiteRules.objects.filter(site=team.site).update(recheck_months=12)
    give_doses(team.person, team.officer, real_now(), 900, 893, 879)
    data = {"taken_on": _today(team), "iu_per_ml": "2.5"}
    assert _post(team, "titre-add", team.person.pk, data).status_code == 400, "the evidence is asked for"
    officer = signed_in_as(team.officer)
    url = reverse("titre-add", args=[team.person.pk])
    html = officer.post(url, data | {"evidence": evidence}, follow=True).content.decode()
    assert readiness_of(team.person, _today(team)).clear == clear
    assert ("counts for nothing until" in html) == ("no report seen" in html) == (not clear)


def test_a_low_titre_takes_away_without_a_report_too(team: Team) -> None:
    person = clear_person(team)
    data = {"taken_on": _today(team), "iu_per_ml": "0.49", "evidence": "none"}
    assert _post(team, "titre-add", person.pk, data).status_code == 302
    assert readiness_of(person, _today(team)).codes == ["titre-low"]


@pytest.mark.parametrize(("days", "counts"), [(6, False), (7, True)])
def test_the_answer_says_at_once_that_a_dose_doesnt_count(team: Team, days: int, counts: bool) -> None:
    give_doses(team.person, team.officer, real_now(), days)
    url = reverse("dose-add", args=[team.person.pk])
    answer = signed_in_as(team.officer).post(url, _dose(team, route="IM"), follow=True)
    told = str(next(iter(answer.context["messages"])))
    tomorrow = date_format(_today(team) + timedelta(days=1))
    assert told == (
        "The dose is on record; clearance follows it."
        if counts
        else f"On record, but it doesn't count: 1 day too early. Dose 2 counts from {tomorrow}."
    )


def test_the_regimens_of_the_sites_authority_are_offered_first(team: Team) -> None:
    page = signed_in_as(team.officer).get(reverse("dose-add", args=[team.person.pk]))
    _none, (_approved, own), (_others, rest) = page.context["form"].fields["regimen"].choices
    assert {words for _pk, words in own} == {
        str(row) for row in Regimen.objects.filter(approvals__site=team.site)
    }
    assert len(own) + len(rest) == Regimen.objects.filter(state="listed").count()
    other = Regimen.objects.get(pk=rest[0][0])
    said = _dose(team, regimen=other.pk, purpose=other.purpose)
    assert _post(team, "dose-add", team.person.pk, said).status_code == 302


def test_a_record_names_the_regimen_its_doses_are_judged_by(team: Team) -> None:
    html = signed_in_as(team.officer).get(reverse("person", args=[clear_person(team).pk])).content.decode()
    regimen = Regimen.objects.get(code=PRE_EXPOSURE, version=1)
    assert f"judged by the regimen “{regimen.name}”. <small>{regimen.code}</small>" in html.replace(
        "&#x27;", "'"
    )


def test_a_briefing_is_kept(team: Team) -> None:
    assert _post(team, "briefing-add", team.person.pk, {"held_on": _today(team)}).status_code == 302
    assert team.person.briefings.get().held_on == _today(team)


def test_a_hold_takes_a_clear_person_off_and_a_release_lets_them_back(team: Team) -> None:
    person = clear_person(team)
    held = {"starts_on": _today(team), "reason": "fever"}
    board = reverse("readiness")
    assert _post(team, "hold-add", person.pk, held).status_code == 302
    assert signed_in_as(team.officer).get(board).context["clear"] == 0
    second = _post(team, "hold-add", person.pk, held)
    assert second.status_code == 409
    assert "release that hold first" in second.content.decode()
    hold = person.holds.get()
    released = {"last_day": _today(team), "note": "well again"}
    assert _post(team, "hold-release", hold.pk, released).status_code == 302
    tomorrow = (_today(team) + timedelta(days=1)).isoformat()
    assert signed_in_as(team.officer).get(board, {"on": tomorrow}).context["clear"] == 1
    assert _post(team, "hold-release", hold.pk, released).status_code == 409


def test_a_hold_takes_the_person_off_a_coming_roster_and_says_so_there(team: Team) -> None:
    person = clear_person(team)
    outing, crew = make_outing(team.site, team.officer, real_now())
    officer = signed_in_as(team.officer)
    officer.post(
        reverse("outing-assign", args=[outing.pk]),
        {"crew": crew.pk, "person": person.pk, "role": "catcher"},
    )
    assert outing.assignments.count() == 1
    _post(team, "hold-add", person.pk, {"starts_on": _today(team), "reason": "fever"})
    assert outing.assignments.count() == 0
    html = officer.get(reverse("outing", args=[outing.pk])).content.decode()
    assert "by rule" in html
    assert "fever" in html
