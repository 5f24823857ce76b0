"""The page of a campaign's field work: areas, the days shown and kept, and who of the community was told."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from staff.models import Campaign, CampaignArea, CommunityNotice, Outing
from staff.services.outing.outings import outing_move
from tests.factories import Team
from tests.staff.field_scenes import area_of, campaign_of, generate
from tests.staff.pages.scenes import real_now, signed_in_as

pytestmark = pytest.mark.django_db
EVERY_DAY = [str(day) for day in range(7)]


def field(campaign: Campaign) -> str:
    return reverse("campaign-field", args=[campaign.pk])


def area_said(campaign: Campaign, **changed: Any) -> dict[str, Any]:
    return {
        "name": "Mill Lane",
        "method": "house-to-house",
        "first_on": campaign.starts_on,
        "days": 2,
        "crews": 1,
        "adults": 9,
        "puppies": 2,
        "riders": 0,
        **changed,
    }


def plan(officer: Client, campaign: Campaign, **changed: Any) -> Any:
    """Look at the days, then plan what was shown."""
    shown = officer.get(field(campaign), {"weekdays": EVERY_DAY}).context["plan"]
    said = {"weekdays": EVERY_DAY, "seen": shown.fingerprint, **changed}
    return officer.post(reverse("campaign-field-plan", args=[campaign.pk]), said, follow=True)


def test_without_areas_the_page_says_what_to_do_first(team: Team) -> None:
    campaign = campaign_of(team, real_now())
    text = signed_in_as(team.officer).get(field(campaign)).content.decode()
    assert "No area is on the plan" in text and "No outing is planned for this campaign yet" in text
    assert field(campaign) in signed_in_as(team.officer).get(f"/campaigns/{campaign.pk}/").content.decode()


def test_an_officer_adds_changes_and_removes_areas(team: Team) -> None:
    campaign = campaign_of(team, real_now())
    officer = signed_in_as(team.officer)
    add = reverse("campaign-area-add", args=[campaign.pk])
    assert officer.post(add, area_said(campaign))["Location"] == field(campaign)
    area = CampaignArea.objects.get()
    edit = reverse("campaign-area-change", args=[campaign.pk, area.pk])
    assert 'value="9"' in officer.get(edit).content.decode()
    officer.post(edit, area_said(campaign, adults=12))
    area.refresh_from_db()
    assert area.adults == 12
    again = officer.post(add, area_said(campaign))
    assert again.status_code == 409 and "area of this name already" in again.content.decode()
    officer.post(reverse("campaign-area-remove", args=[campaign.pk, area.pk]))
    assert not CampaignArea.objects.exists()


def test_days_are_shown_first_and_then_planned_as_they_were_shown(team: Team) -> None:
    now = real_now()
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    officer = signed_in_as(team.officer)
    text = officer.get(field(campaign), {"weekdays": EVERY_DAY}).content.decode()
    assert not Outing.objects.exists()
    assert "9 dogs" in text and "2 puppies among them" in text and "outings to plan" in text
    answer = plan(officer, campaign)
    assert "3 outings are planned" in answer.content.decode()
    assert Outing.objects.filter(campaign=campaign).count() == 3
    again = plan(officer, campaign)
    assert "Every outing of the plan stands already" in again.content.decode()
    assert Outing.objects.count() == 3


def test_what_was_not_shown_is_not_planned(team: Team) -> None:
    now = real_now()
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    answer = plan(signed_in_as(team.officer), campaign, seen="older")
    assert "The plan changed since it was shown" in answer.content.decode()
    assert not Outing.objects.exists()


def test_without_a_weekday_the_form_says_so(team: Team) -> None:
    now = real_now()
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    officer = signed_in_as(team.officer)
    answer = officer.get(field(campaign), {"show": "1"})
    assert answer.status_code == 400 and "Days of the week" in answer.content.decode()
    sent = officer.post(reverse("campaign-field-plan", args=[campaign.pk]), follow=True)
    assert "Choose the days of the week first" in sent.content.decode()


def test_the_liaison_sees_the_plan_and_changes_nothing(team: Team) -> None:
    now = real_now()
    campaign = campaign_of(team, now)
    area = area_of(team, campaign, now)
    generate(team, campaign, now, weekdays=range(7))
    liaison = signed_in_as(team.liaison)
    text = liaison.get(field(campaign), {"weekdays": EVERY_DAY}).content.decode()
    assert "Mill Lane" in text and 'method="post" action="/campaigns' not in text
    for name, args in (("campaign-field-plan", []), ("campaign-area-remove", [area.pk])):
        assert liaison.post(reverse(name, args=[campaign.pk, *args])).status_code == 403


def test_an_area_of_another_campaign_is_not_found(team: Team) -> None:
    now = real_now()
    campaign = campaign_of(team, now)
    area = area_of(team, campaign, now)
    answer = signed_in_as(team.officer).get(reverse("campaign-area-change", args=[campaign.pk + 1, area.pk]))
    assert answer.status_code == 404


def test_several_outings_are_told_of_at_once_and_none_is_ticked_beforehand(team: Team) -> None:
    now = real_now()
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    made = generate(team, campaign, now, weekdays=range(7))
    officer, told = signed_in_as(team.officer), reverse("campaign-field-told", args=[campaign.pk])
    # A tick nobody made would silence a reminder.
    assert " checked" not in officer.get(told).content.decode()
    said = {"told_on": team.site.local_date(now), "who": "the elders", "how": "a meeting"}
    officer.post(told, {**said, "outings": [one.pk for one in made[:2]]})
    assert CommunityNotice.objects.count() == 2
    none = officer.post(told, said)
    assert none.status_code == 400 and "Choose at least one outing" in none.content.decode()
    assert "Told 14 days before." in officer.get(field(campaign)).content.decode()


def test_on_the_outings_page_who_was_told_is_recorded_and_taken_back(team: Team) -> None:
    now = real_now()
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    outing = generate(team, campaign, now, weekdays=range(7))[0]
    officer = signed_in_as(team.officer)
    shown = reverse("outing", args=[outing.pk])
    assert "not told yet" in officer.get(shown).content.decode()
    said = {"told_on": team.site.local_date(now), "who": "the elders", "how": "a meeting"}
    assert officer.post(reverse("outing-told", args=[outing.pk]), said)["Location"] == shown
    assert "told in time" in officer.get(shown).content.decode()
    lead = signed_in_as(team.lead).get(shown).content.decode()
    assert "told in time" in lead and "the elders" not in lead
    void = reverse("community-void", args=[CommunityNotice.objects.get().pk])
    officer.post(void, {"reason": "another lane"})
    text = officer.get(shown).content.decode()
    assert "not told yet" in text and "another lane" in text


def test_a_moved_outing_is_said_to_differ_and_to_need_telling_again(team: Team) -> None:
    now = real_now()
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    outing = generate(team, campaign, now, weekdays=range(7))[0]
    new = outing.date + timedelta(days=20)
    outing_move(actor=team.officer, outing=outing, date=new, now=now, reason="market day")
    officer = signed_in_as(team.officer)
    assert "market day" in officer.get(reverse("outing", args=[outing.pk])).content.decode()
    lead = signed_in_as(team.lead).get(reverse("outing", args=[outing.pk])).content.decode()
    assert "market day" not in lead
    text = officer.get(field(campaign), {"weekdays": EVERY_DAY}).content.decode()
    assert "is no day of the plan" in text and "moved to" in text


def test_told_on_the_day_of_a_move_the_page_asks_which_date_they_know(team: Team) -> None:
    now = real_now()
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    outing = generate(team, campaign, now, weekdays=range(7))[0]
    officer, page = signed_in_as(team.officer), reverse("outing-told", args=[outing.pk])
    together = reverse("campaign-field-told", args=[campaign.pk])
    assert "new_date" not in officer.get(page).content.decode()
    outing_move(actor=team.officer, outing=outing, date=outing.date + timedelta(days=20), now=now)
    said = {"told_on": team.site.local_date(now), "who": "the elders", "how": "a meeting"}
    for address, more in ((page, {}), (together, {"outings": [outing.pk]})):
        answer = officer.post(address, said | more)
        assert answer.status_code == 400
        assert set(answer.context["form"].errors) == {"new_date"}
    assert not CommunityNotice.objects.exists()
    officer.post(page, said | {"new_date": "on"})
    assert "told in time" in officer.get(reverse("outing", args=[outing.pk])).content.decode()
