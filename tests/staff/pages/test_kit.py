"""The list to pack on the page: printed, ticked by a plain form and by the script, and kept on a phone."""

from __future__ import annotations

from typing import Any

from django.test import Client
from django.urls import reverse

from staff.models import Crew, KitTick, Outing
from staff.services.outing.outings import outing_cancel, outing_create
from tests.factories import Team, make_outing
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.planning.scenes import make_campaign


def _outing(team: Team, dogs: int = 100) -> tuple[Outing, Crew]:
    now = real_now()
    outing = outing_create(
        actor=team.officer,
        site_id=team.site.pk,
        date=team.site.local_date(now),
        area="Salt flats",
        method="fixed-post",
        dogs_expected=dogs,
        now=now,
    )
    return outing, outing.crews.get()


def _tick(client: Client, outing: Outing, crew: Crew, *, script: bool = False, **changed: Any) -> Any:
    data = {"crew": crew.pk, "item": "soap", "there": "yes", **changed}
    headers = {"Accept": "application/json"} if script else {}
    return client.post(reverse("kit-tick", args=[outing.pk]), data, headers=headers)


def test_the_list_says_how_many_why_and_what_never_to_do(team: Team) -> None:
    outing, _crew = _outing(team)
    page = signed_in_as(team.lead).get(reverse("kit", args=[outing.pk])).content.decode()
    for words in (
        "110 doses",
        "100 for the dogs expected, and 10 % to spare",
        "100, a new one for every injection, and 10 % to spare",
        "83 m of webbing",
        "washes: 2, of 15 minutes at 1000 mL a minute",
        "A new needle for every injection.",
        "A syringe serves 5 injections at most",
        "Never put a cap back on a needle",
    ):
        assert words in page


def test_the_outing_leads_to_its_kit(team: Team) -> None:
    outing, _crew = _outing(team)
    page = signed_in_as(team.officer).get(reverse("outing", args=[outing.pk])).content.decode()
    assert reverse("kit", args=[outing.pk]) in page


def test_an_outing_without_dogs_says_what_its_list_lacks(team: Team) -> None:
    outing, _crew = _outing(team, dogs=0)
    page = signed_in_as(team.lead).get(reverse("kit", args=[outing.pk])).content.decode()
    assert "This outing expects no dogs" in page


def test_a_row_is_ticked_and_taken_back_without_script(team: Team) -> None:
    outing, crew = _outing(team)
    lead = signed_in_as(team.lead)
    answer = _tick(lead, outing, crew)
    assert answer["Location"] == f"{reverse('kit', args=[outing.pk])}#soap-{crew.pk}"
    assert KitTick.objects.get().there
    assert 'aria-pressed="true"' in lead.get(reverse("kit", args=[outing.pk])).content.decode()
    _tick(lead, outing, crew, there="")
    assert not KitTick.objects.get().there


def test_the_last_tick_says_that_everything_is_there(team: Team) -> None:
    outing, crew = _outing(team, dogs=0)
    lead = signed_in_as(team.lead)
    for item in ("sharps-box", "forceps", "water", "soap", "antiseptic"):
        page = lead.get(_tick(lead, outing, crew, item=item)["Location"]).content.decode()
        assert "Everything on this list is there" not in page
    assert "still to tick: 1" in page
    page = lead.get(_tick(lead, outing, crew, item="first-aid")["Location"]).content.decode()
    assert "Everything on this list is there: Crew 1." in page


def test_a_refused_form_says_why_on_the_list(team: Team) -> None:
    outing, crew = _outing(team)
    lead = signed_in_as(team.lead)
    page = lead.get(_tick(lead, outing, crew, item="net")["Location"]).content.decode()
    assert "This isn&#x27;t on the crew&#x27;s list" in page


def test_the_script_is_answered_with_what_stands(team: Team) -> None:
    outing, crew = _outing(team)
    answer = _tick(signed_in_as(team.lead), outing, crew, script=True, account=team.lead.pk)
    assert answer.json() == {
        "item": "soap",
        "there": True,
        "ticked_at": answer.json()["ticked_at"],
    }


def test_the_script_is_refused_in_words_with_a_code(team: Team) -> None:
    outing, crew = _outing(team)
    other, others_crew = make_outing(team.site, team.officer, real_now())
    lead = signed_in_as(team.lead)
    refused = _tick(lead, outing, others_crew, script=True)
    assert (refused.status_code, refused.json()["code"]) == (400, "invalid")
    assert "isn't of this outing" in refused.json()["message"]
    outing_cancel(actor=team.officer, outing=outing, reason="rain", now=real_now())
    refused = _tick(lead, outing, crew, script=True)
    assert (refused.status_code, refused.json()["code"]) == (409, "outing-cancelled")
    assert _tick(signed_in_as(team.member), other, others_crew, script=True).status_code == 404
    assert not KitTick.objects.exists()


def test_a_tick_of_another_account_is_never_kept_under_this_one(team: Team) -> None:
    outing, crew = _outing(team)
    refused = _tick(signed_in_as(team.officer), outing, crew, script=True, account=team.lead.pk)
    assert (refused.status_code, refused.json()["code"]) == (409, "other-account")
    assert not KitTick.objects.exists()


def test_the_copy_for_a_phone_has_no_menu_and_no_word_of_cases(team: Team) -> None:
    outing, _crew = _outing(team)
    page = signed_in_as(team.officer).get(reverse("kit", args=[outing.pk]), {"copy": ""}).content.decode()
    assert "main-nav" not in page
    assert "110 doses" in page


def test_who_only_looks_and_an_outing_that_is_over_have_nothing_to_press(team: Team) -> None:
    outing, _crew = _outing(team)
    over, _crew = make_outing(team.site, team.officer, real_now(), -2)
    for user, row in ((team.liaison, outing), (team.lead, over)):
        page = signed_in_as(user).get(reverse("kit", args=[row.pk])).content.decode()
        assert "not ticked" in page
        assert 'class="tick"' not in page


def test_the_worker_takes_itself_away_when_phones_are_to_keep_nothing(
    team: Team, client: Client, settings: Any
) -> None:
    outing, _crew = _outing(team)
    assert 'const KIT = {"on": true' in client.get("/outings/kit-worker.js").content.decode()
    settings.PHONE_WORKER = False
    assert 'const KIT = {"on": false' in client.get("/outings/kit-worker.js").content.decode()
    page = signed_in_as(team.lead).get(reverse("kit", args=[outing.pk])).content.decode()
    assert 'data-files=""' in page


def test_every_file_the_worker_keeps_is_served(team: Team, client: Client) -> None:
    text = client.get("/outings/kit-worker.js").content.decode()
    files = text.split('"files": [')[1].split("]")[0].replace('"', "").split(", ")
    assert [client.get(name).status_code for name in files] == [200] * 5


def test_a_campaigns_kit_is_added_up_and_an_empty_one_says_what_is_missing(team: Team) -> None:
    campaign = make_campaign(team, real_now(), days_ahead=0, people=[team.person])
    officer, where = signed_in_as(team.officer), reverse("campaign-kit", args=[campaign.pk])
    assert "No outing of this campaign is planned yet" in officer.get(where).content.decode()
    outing, _crew = _outing(team)
    outing.campaign = campaign
    outing.save()
    page = officer.get(where).content.decode()
    assert "All days together" in page
    assert "110 doses" in page
    assert where in officer.get(reverse("campaign", args=[campaign.pk])).content.decode()
