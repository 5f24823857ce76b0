"""The pages of an officer who is on the team too: what clears isn't offered, and refused when it is sent all the same."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from staff.models import Briefing, Dose, Person
from staff.services.importing.drafts import draft_create
from staff.services.record.certificates import certificate_add
from staff.services.record.holds import hold_place
from staff.services.record.letters import immunocompromised_set
from tests.documents import picture
from tests.factories import Team, also_member, make_person, make_user
from tests.safety.pages.scenes import text_of
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.planning.scenes import keep_proposal, newcomers, skin_campaign

SENTENCE = "Somebody else must record this for you: nobody clears themself."


@pytest.fixture
def own(team: Team) -> Person:
    return also_member(team, team.officer)


def today(team: Team) -> str:
    return team.site.local_date(real_now()).isoformat()


def test_the_own_record_offers_only_what_clears_nobody(own: Person, team: Team) -> None:
    now = real_now()
    hold = hold_place(
        actor=team.officer, person=own, starts_on=team.site.local_date(now), reason="fever", now=now
    )
    row = certificate_add(actor=team.liaison, person=own, kind="certificate", content=picture(), now=now)
    immunocompromised_set(actor=team.officer, person=own, immunocompromised=True, reason="x", now=now)
    hidden = [
        reverse(name, args=[own.pk]) for name in ("titre-add", "briefing-add", "letter-add", "person-health")
    ]
    hidden += [reverse("hold-release", args=[hold.pk]), reverse("certificate-check", args=[row.key])]
    open_to_all = [reverse(name, args=[own.pk]) for name in ("dose-add", "hold-add", "certificate-add")]
    pages = {
        user: signed_in_as(user).get(reverse("person", args=[own.pk]))
        for user in (team.officer, team.liaison)
    }
    shown = {user: page.content.decode() for user, page in pages.items()}
    assert "This is your own record, and nobody clears themself" in text_of(pages[team.officer])
    assert "your own record" not in text_of(pages[team.liaison])
    assert not [url for url in hidden if f'href="{url}"' in shown[team.officer]]
    assert [url for url in hidden if f'href="{url}"' in shown[team.liaison]] == [
        url
        for url in hidden
        if "release" not in url  # the officer's alone
    ]
    for page in shown.values():
        assert all(f'href="{url}"' in page for url in open_to_all)
    assert "your own record" in text_of(signed_in_as(team.officer).get(reverse("me")))


def sent_anyway(team: Team) -> dict[str, dict[str, Any]]:
    """By route, what a page that is still open would send."""
    day = today(team)
    letter = SimpleUploadedFile("letter.png", picture(), "image/png")
    return {
        "dose-add": {"given_on": day, "purpose": "pre-exposure", "evidence": "certificate-seen"},
        "titre-add": {"taken_on": day, "iu_per_ml": "0.9", "evidence": "report-seen"},
        "briefing-add": {"held_on": day},
        "letter-add": {"clinician": "x", "signed_on": day, "valid_until": day, "content": letter},
    }


@pytest.mark.parametrize("route", ["dose-add", "titre-add", "briefing-add", "letter-add"])
def test_what_is_sent_all_the_same_is_refused_in_words(route: str, own: Person, team: Team) -> None:
    answer = signed_in_as(team.officer).post(reverse(route, args=[own.pk]), sent_anyway(team)[route])
    assert answer.status_code == 403
    assert SENTENCE in text_of(answer)
    url = reverse(route, args=[own.pk])
    assert signed_in_as(team.liaison).post(url, sent_anyway(team)[route]).status_code == 302


def test_a_dose_of_ones_own_starts_without_a_document(own: Person, team: Team) -> None:
    client, url = signed_in_as(team.officer), reverse("dose-add", args=[own.pk])
    page = client.get(url)
    assert "counts once a second person has checked its document" in text_of(page)
    assert page.context["form"]["evidence"].value() == "none"
    said = sent_anyway(team)["dose-add"] | {"evidence": "none"}
    assert client.post(url, said).status_code == 302


def test_a_hold_of_ones_own_stays_until_a_colleague_releases_it(own: Person, team: Team) -> None:
    now = real_now()
    hold = hold_place(
        actor=team.officer, person=own, starts_on=team.site.local_date(now), reason="fever", now=now
    )
    url, said = reverse("hold-release", args=[hold.pk]), {"last_day": today(team), "note": "well"}
    answer = signed_in_as(team.officer).post(url, said)
    assert (answer.status_code, SENTENCE in text_of(answer)) == (403, True)
    assert signed_in_as(make_user("second", team.site, "officer")).post(url, said).status_code == 302


def test_more_days_with_the_team_are_refused_at_their_field(own: Person, team: Team) -> None:
    Person.objects.filter(pk=own.pk).update(active_until=today(team))
    said = {"name": own.name, "language": "en", "active_until": ""}
    answer = signed_in_as(team.officer).post(reverse("person-edit", args=[own.pk]), said)
    assert answer.status_code == 403
    assert SENTENCE in answer.context["form"].errors["active_until"][0]


def test_a_document_of_ones_own_record_shows_a_sentence_in_place_of_the_button(
    own: Person, team: Team
) -> None:
    row = certificate_add(
        actor=team.liaison, person=own, kind="certificate", content=picture(), now=real_now()
    )
    page = text_of(signed_in_as(team.officer).get(reverse("certificate-check", args=[row.key])))
    assert SENTENCE in page and "Checked" not in page


def test_a_briefing_of_many_has_no_box_for_oneself(own: Person, team: Team) -> None:
    mate = make_person(team.site, team.officer, real_now(), number="8")
    client, url = signed_in_as(team.officer), reverse("briefings-add")
    page = client.post(url, {"site": team.site.pk, "do": "tick"})
    assert {row.person.pk: ticked for row, ticked in page.context["rows"]} == {own.pk: False, mate.pk: True}
    assert f'name="people" value="{own.pk}"' not in page.content.decode() and SENTENCE in text_of(page)
    sent = {"site": team.site.pk, "do": "record", "held_on": today(team), "people": [own.pk, mate.pk]}
    answer = client.post(url, sent)
    assert answer.status_code == 403 and SENTENCE in answer.context["form"].errors["people"][0]
    assert not Briefing.objects.exists()
    assert client.post(url, sent | {"people": [mate.pk]}).status_code == 302


def test_who_came_has_a_sentence_in_the_own_row_and_takes_the_others(own: Person, team: Team) -> None:
    now = real_now()
    campaign = skin_campaign(team, now, days_ahead=30, people=[*newcomers(team, now, 1), own])
    session = keep_proposal(team, campaign, now)[0]
    client, url = signed_in_as(team.officer), reverse("session-given", args=[session.pk])
    row = f"p{session.places.get(person=own).pk}"
    page = client.get(url)
    assert f'name="{row}-outcome"' not in page.content.decode() and SENTENCE in text_of(page)
    answer = client.post(url, {"rest": "given", f"{row}-outcome": "given"})
    assert answer.status_code == 403
    assert SENTENCE in answer.context["form"].errors[f"{row}-outcome"][0] and not Dose.objects.exists()
    assert client.post(url, {"rest": "given"}).status_code == 302
    assert set(Dose.objects.values_list("person__number", flat=True)) == {"N0"}
    other = signed_in_as(team.liaison).get(url).content.decode()
    assert f'name="{row}-outcome"' in other


def test_the_check_report_of_a_list_names_the_own_row(own: Person, team: Team) -> None:
    list_of_two = b"number,name,dose 1\n20,Test Newcomer,2026-01-05\n7,Test Member,2026-01-05\n"
    draft = draft_create(
        actor=team.officer, site=team.site, file_name="team.csv", content=list_of_two, now=real_now()
    )
    url, second = reverse("import-draft", args=[draft.key]), make_user("second", team.site, "officer")
    assert "This row would clear you" in text_of(signed_in_as(team.officer).get(url))
    page = text_of(signed_in_as(second).get(url))
    assert "This row would clear you" not in page
