"""The page of a site's rules: seen, previewed, changed with a reason, followed to the end."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.forms import model_to_dict
from django.urls import reverse

from staff.models import RulesChange, SiteRules
from staff.services.outing.roster import roster_assign
from staff.services.record.recompute import recompute_catch_up
from staff.services.site.site_rules import site_rules_change
from tests.factories import Team, give_doses, make_outing, make_person
from tests.staff.pages.scenes import clear_person, real_now, signed_in_as

pytestmark = pytest.mark.django_db


def url(team: Team) -> str:
    return reverse("site-rules", args=[team.site.code])


def figures(team: Team, **changes: Any) -> dict[str, Any]:
    rules = model_to_dict(SiteRules.objects.get(site=team.site), exclude=["site", "id"]) | changes
    return {name: value for name, value in rules.items() if value is not None and value is not False}


def confirm(team: Team, reason: str = "letter 9", **changes: Any) -> Any:
    """Preview, then confirm exactly what was shown."""
    officer = signed_in_as(team.officer)
    shown = officer.post(url(team), figures(team, **changes))
    assert shown.status_code == 200
    again = figures(team, **changes) | {"previewed": shown.context["mark"], "reason": reason}
    return officer.post(url(team), again | {"confirmed": "1"})


def test_the_only_site_opens_at_once(team: Team) -> None:
    assert signed_in_as(team.officer).get(reverse("sites"))["Location"] == url(team)


def test_a_preview_names_who_would_lose_clearance_and_changes_nothing(team: Team) -> None:
    person = clear_person(team)
    now = real_now()
    outing, crew = make_outing(team.site, team.officer, now)
    roster_assign(actor=team.officer, outing=outing, crew=crew, person=person, role="catcher", now=now)
    shown = signed_in_as(team.officer).post(url(team), figures(team, doses_required=4))
    today, coming = shown.context["days"]
    assert (today.clear_now, today.clear_then) == (1, 0)
    assert today.lose == coming.lose == coming.withdrawn == (person,)
    assert today.withdrawn == () and not today.gain
    assert person.name in shown.content.decode()
    assert SiteRules.objects.get(site=team.site).doses_required == 3 and not RulesChange.objects.exists()


def test_a_preview_names_who_would_gain(team: Team) -> None:
    now = real_now()
    settling = make_person(team.site, team.officer, now, number="30", name="Settling Person")
    give_doses(settling, team.officer, now, 40, 33, 5)
    assert confirm(team, settling_days=10).status_code == 302
    recompute_catch_up(now=now)
    shown = signed_in_as(team.officer).post(url(team), figures(team, settling_days=5))
    assert shown.context["days"][0].gain == (settling,)


def test_a_change_needs_a_reason_and_says_so_at_its_field(team: Team) -> None:
    answer = confirm(team, reason=" ", doses_required=2)
    assert answer.status_code == 400 and 'href="#id_reason"' in answer.content.decode()
    assert not RulesChange.objects.exists()


def test_figures_edited_after_the_preview_are_shown_before_they_are_changed(team: Team) -> None:
    officer = signed_in_as(team.officer)
    shown = officer.post(url(team), figures(team, doses_required=2))
    sneaked = figures(team, doses_required=1) | {"previewed": shown.context["mark"], "reason": "letter 9"}
    answer = officer.post(url(team), sneaked | {"confirmed": "1"})
    assert answer.status_code == 200 and "What this change would do" in answer.content.decode()
    assert not RulesChange.objects.exists()


def test_nothing_to_change_and_figures_that_cannot_be_are_refused(team: Team) -> None:
    officer = signed_in_as(team.officer)
    assert officer.post(url(team), figures(team)).status_code == 400
    answer = officer.post(url(team), figures(team, doses_required=9))
    assert answer.status_code == 400 and 'href="#id_doses_required"' in answer.content.decode()


def test_the_page_of_a_change_shows_its_reason_and_how_far_it_is(team: Team) -> None:
    clear_person(team)
    answer = confirm(team, doses_required=4)
    officer = signed_in_as(team.officer)
    under_way = officer.get(answer["Location"])
    assert "0 of 2 people." in under_way.content.decode() and under_way["Refresh"] == "3"
    recompute_catch_up(now=real_now() + timedelta(seconds=1))
    done = officer.get(answer["Location"])
    html = done.content.decode()
    assert "2 people recomputed." in html and "letter 9" in html and "Refresh" not in done


def test_the_time_of_a_change_is_the_sites_and_says_so(team: Team) -> None:
    change = site_rules_change(
        actor=team.officer,
        rules=SiteRules.objects.get(site=team.site),
        changes={"notice_hour": 9},
        reason="letter 9",
        now=datetime(2026, 3, 2, 22, 30, tzinfo=UTC),  # 01:30 of the third in Nairobi
    )
    officer = signed_in_as(team.officer)
    page = officer.get(reverse("rules-change", args=[team.site.code, change.pk]))
    told = " ".join(page.content.decode().split())
    assert "3 Mar 2026, 01:30" in told and "(Africa/Nairobi)" in told
    assert "3 Mar 2026</a>: letter 9" in officer.get(url(team)).content.decode()


def test_figures_clearance_never_reads_recompute_nobody(team: Team) -> None:
    assert confirm(team, notice_hour=9).status_code == 302
    change = RulesChange.objects.get()
    assert change.finished_at is not None and change.total == 0


@pytest.mark.parametrize("name", ["wash_minutes", "observation_days"])
def test_less_than_any_published_text_asks_for_is_refused(team: Team, name: str) -> None:
    """Older WHO texts wash for at least 10 minutes; WHO 2018 watches a dog or cat for 10 days."""
    officer = signed_in_as(team.officer)
    answer = officer.post(url(team), figures(team, **{name: 9}))
    assert answer.status_code == 400 and f'href="#id_{name}"' in answer.content.decode()
    assert 'min="10"' in str(answer.context["form"][name])
    with pytest.raises(IntegrityError), transaction.atomic():
        SiteRules.objects.filter(site=team.site).update(**{name: 9})


@pytest.mark.parametrize(("minutes", "cautious"), [(10, True), (14, True), (15, False), (16, False)])
def test_a_preview_cautions_against_washing_less_than_who_asks_for(
    team: Team, minutes: int, cautious: bool
) -> None:
    """15 minutes with soap and running water: WHO 2018."""
    SiteRules.objects.filter(site=team.site).update(wash_minutes=20)
    html = signed_in_as(team.officer).post(url(team), figures(team, wash_minutes=minutes)).content.decode()
    assert f"ask for {minutes} minutes from now on" in html
    assert ("Caution: WHO asks for 15 minutes" in html) == cautious


@pytest.mark.parametrize(("required", "nothing"), [(1, True), (2, True), (4, False)])
def test_a_preview_says_that_fewer_doses_need_a_shorter_regimen(
    team: Team, required: int, nothing: bool
) -> None:
    html = signed_in_as(team.officer).post(url(team), figures(team, doses_required=required)).content.decode()
    assert ("the shortest approved regimen that counts has 3" in html) == nothing
