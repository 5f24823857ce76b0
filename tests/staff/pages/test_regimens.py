"""The regimen table: its source in sight, tried by anybody, approved by an officer."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.urls import reverse

from staff.models import RegimenApproval
from tests.factories import POST_EXPOSURE, PRE_EXPOSURE, Team
from tests.staff.pages.scenes import signed_in_as


def _try(team: Team, code: str, **asked: Any) -> Any:
    return signed_in_as(team.member).get(reverse("regimen", args=[code]), {"on": "2026-06-01", **asked})


def test_the_list_says_which_regimens_ones_own_site_has_approved(team: Team) -> None:
    response = signed_in_as(team.officer).get(reverse("regimens"))
    approved = {
        row.code: where for _label, rows in response.context["groups"] for row, where in rows if where
    }
    assert approved[PRE_EXPOSURE] == ["Hillside"]
    assert "prep-im-0-7" not in approved


def test_a_regimen_shows_its_source_and_what_kind_of_source_it_is(team: Team) -> None:
    html = signed_in_as(team.member).get(reverse("regimen", args=[POST_EXPOSURE])).content.decode()
    assert "WER 2010;85(32):309-320" in html
    assert "Kind of source" in html
    assert "Local health authorities and clinicians decide treatment" in html


def test_an_unknown_regimen_or_version_is_not_found(team: Team) -> None:
    member = signed_in_as(team.member)
    assert member.get(reverse("regimen", args=["no-such"])).status_code == 404
    assert member.get(reverse("regimen", args=[PRE_EXPOSURE]), {"version": "99"}).status_code == 404


def test_a_late_dose_keeps_the_gaps_as_in_the_published_case(team: Team) -> None:
    """Day-7 dose on day 10, so the next are due on days 17 and 31: ACIP 2010 with its published answers."""
    response = _try(team, POST_EXPOSURE, dose_1="2026-03-02", dose_2="2026-03-05", dose_3="2026-03-12")
    due = [step.due_on for step in response.context["schedule"].steps]
    assert due[3:] == [date(2026, 3, 19), date(2026, 4, 2)]


def test_dates_may_come_in_any_order_and_an_early_one_is_named(team: Team) -> None:
    response = _try(team, PRE_EXPOSURE, dose_1="2026-01-08", dose_2="2026-01-01", dose_3="2026-01-07")
    assert [one.counts for one, _words in response.context["lines"]] == [True, False, True]
    assert "1 day too early." in response.content.decode()


def test_a_route_the_regimen_does_not_take_is_named(team: Team) -> None:
    html = _try(team, PRE_EXPOSURE, dose_1="2026-01-08", route="ID").content.decode()
    assert "Route not accepted by the regimen." in html


def test_starting_again_asks_after_how_many_days(team: Team) -> None:
    asked = {"dose_1": "2026-01-01", "late_rule": "restart"}
    response = _try(team, PRE_EXPOSURE, **asked)
    assert response.status_code == 400
    assert 'href="#id_restart_after_days"' in response.content.decode()
    assert _try(team, PRE_EXPOSURE, **asked, restart_after_days="30").status_code == 200


def test_a_date_that_is_none_is_explained_and_nothing_is_computed(team: Team) -> None:
    response = _try(team, PRE_EXPOSURE, dose_1="2026-02-30")
    assert response.status_code == 400
    assert 'href="#id_dose_1"' in response.content.decode()
    assert "series" not in response.context


def test_trying_keeps_nothing(team: Team) -> None:
    _try(team, PRE_EXPOSURE, dose_1="2026-01-01")
    assert not team.person.doses.exists()


def test_an_officer_notes_an_approval_with_its_document_once(team: Team) -> None:
    url = reverse("regimen-approve", args=["prep-im-0-7", 1])
    data = {"site": team.site.pk, "authority": "Office", "approved_on": "2026-01-01", "document": "letter 2"}
    officer = signed_in_as(team.officer)
    assert officer.post(url, data | {"document": ""}).status_code == 400
    assert officer.post(url, data).status_code == 200, "what it would do is shown first"
    assert not RegimenApproval.objects.filter(regimen__code="prep-im-0-7").exists()
    data |= {"confirmed": "1", "previewed": "hillside"}
    assert officer.post(url, data).status_code == 302
    assert RegimenApproval.objects.get(regimen__code="prep-im-0-7").document == "letter 2"
    assert officer.post(url, data).status_code == 409


def test_nobody_approves_for_another_site_or_without_being_officer(team: Team) -> None:
    url = reverse("regimen-approve", args=["prep-im-0-7", 1])
    data = {"site": team.site.pk, "authority": "Office", "approved_on": "2026-01-01", "document": "letter 2"}
    assert signed_in_as(team.stranger).post(url, data).status_code == 400
    assert signed_in_as(team.liaison).post(url, data).status_code == 403
    assert not RegimenApproval.objects.filter(regimen__code="prep-im-0-7").exists()
