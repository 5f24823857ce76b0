"""The form of who came: one answer for all, a row for each exception, people who came unplanned."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from staff.ground.errors import Invalid
from staff.models import AuditEntry, Dose, Session
from staff.services.campaign.session_notes import Note
from staff.services.campaign.sessions import session_record
from staff.services.record.letters import immunocompromised_set
from staff.services.record.records import dose_record
from staff.services.record.titres import titre_record
from tests.factories import Team, give_doses, make_person
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.planning.scenes import keep_proposal, newcomers, skin_campaign


def planned(team: Team) -> list[Session]:
    now = real_now()
    return keep_proposal(team, skin_campaign(team, now, days_ahead=30, people=newcomers(team, now, 3)), now)


def names(session: Session) -> list[str]:
    return [f"p{place.pk}" for place in session.places.order_by("person__name")]


def send(client: Client, session: Session, **data: Any) -> Any:
    """What is said, and that the people who came unplanned are those that are then shown."""
    said = {name.replace("__", "-"): value for name, value in data.items()}
    told = {"rest": "expected", "product": "", "batch": "", **said}
    url = reverse("session-given", args=[session.pk])
    answer = client.post(url, told)
    if answer.status_code != 200:
        return answer
    assert answer.context["named"]
    return client.post(url, told | {"named": answer.context["mark"]})


def errors(answer: Any) -> dict[str, str]:
    return {name: " ".join(words) for name, words in answer.context["form"].errors.items()}


def seen(answer: Any) -> str:
    """The page as a reader sees it: a line's end in its source is a blank."""
    return " ".join(answer.content.decode().split())


def outcomes(session: Session) -> list[str]:
    return list(session.places.order_by("person__name").values_list("outcome", flat=True))


def test_all_given_as_planned_except_those_named_and_again_changes_nothing(team: Team) -> None:
    session = planned(team)[0]
    liaison, (first, second, _third) = signed_in_as(team.liaison), names(session)
    said = {
        "rest": "given",
        "product": "Cell-culture vaccine",
        "batch": "B7",
        f"{first}-outcome": "absent",
        f"{first}-reason": "on leave",
        f"{second}-batch": "B8",
    }
    for _time in range(2):
        answer = send(liaison, session, **said)
        assert answer["Location"] == reverse("session", args=[session.pk])
        assert outcomes(session) == ["absent", "given", "given"]
        found = Dose.objects.order_by("batch").values_list("batch", "product", "evidence")
        assert list(found) == [
            ("B7", "Cell-culture vaccine", "clinic-register"),
            ("B8", "Cell-culture vaccine", "clinic-register"),
        ]
    page = seen(liaison.get(answer["Location"])).replace("&#x27;", "'")
    assert "didn't come: on leave" in page and "B8" in page


def test_without_an_answer_for_all_only_the_rows_that_say_something_are_kept(team: Team) -> None:
    session = planned(team)[0]
    send(signed_in_as(team.liaison), session, **{f"{names(session)[1]}-outcome": "given"})
    assert outcomes(session) == ["expected", "given", "expected"]
    again = signed_in_as(team.liaison).get(reverse("session-given", args=[session.pk])).content.decode()
    assert again.count("as chosen above</option>") == 2, "whose dose is on record is no question any more"


def test_not_noted_yet_leaves_a_row_out_of_all_given(team: Team) -> None:
    session = planned(team)[0]
    send(signed_in_as(team.liaison), session, rest="given", **{f"{names(session)[0]}-outcome": "expected"})
    assert outcomes(session) == ["expected", "given", "given"]
    page = signed_in_as(team.liaison).post(
        reverse("session-given", args=[session.pk]), {"rest": "expected"}, follow=True
    )
    assert "Kept. No new dose was noted." in page.content.decode()


def test_who_came_unplanned_is_added_by_name(team: Team) -> None:
    session = planned(team)[0]
    page = signed_in_as(team.liaison).get(reverse("session-given", args=[session.pk])).content.decode()
    assert '<option value="Test Member · 7">' in page and "Newcomer 00 · N0" not in page
    for _time in range(2):
        send(
            signed_in_as(team.liaison),
            session,
            batch="B7",
            new0__number=" Test Member · 7 ",
            new0__product="Other",
        )
        dose = Dose.objects.get()
        assert (dose.person, dose.batch, dose.product) == (team.person, "B7", "Other")
    assert outcomes(session) == ["expected", "expected", "expected", "given"]
    assert (
        "unplanned" in signed_in_as(team.officer).get(reverse("session", args=[session.pk])).content.decode()
    )


def test_a_number_of_another_site_or_nobody_is_refused_in_the_same_words(team: Team) -> None:
    session = planned(team)[0]
    make_person(team.other_site, team.stranger, real_now(), number="F1", name="Foreign Person")
    answer = send(
        signed_in_as(team.liaison),
        session,
        rest="given",
        new0__number="F1",
        new1__number="nobody",
        new2__batch="B1",
    )
    assert answer.status_code == 400
    found = errors(answer)
    assert (
        found["new0-number"]
        == found["new1-number"]
        == "Nobody of this site is called so; choose from the list."
    )
    assert "Choose the person" in found["new2-number"]
    assert b"Foreign" not in answer.content
    assert not Dose.objects.exists() and outcomes(session) == ["expected"] * 3


def test_what_contradicts_the_outcome_is_pointed_out_and_kept_in_the_form(team: Team) -> None:
    session = planned(team)[0]
    first, second, third = names(session)
    said = {
        f"{first}-outcome": "absent",
        f"{first}-batch": "B9",
        f"{second}-outcome": "given",
        f"{second}-reason": "ill",
        f"{third}-reason": "on leave",
    }
    answer = send(signed_in_as(team.liaison), session, **said)
    assert answer.status_code == 400
    assert set(errors(answer)) == {f"{first}-batch", f"{second}-reason", f"{third}-reason"}
    html = seen(answer)
    assert 'value="B9"' in html and "Batch, Newcomer 00 (N0): Choose" in html
    assert not Dose.objects.exists()


def test_a_day_ahead_is_refused_at_the_field_of_the_person(team: Team) -> None:
    session, now = planned(team)[0], real_now()
    name = names(session)[1]
    tomorrow = team.site.local_date(now) + timedelta(days=1)
    answer = send(signed_in_as(team.liaison), session, rest="given", **{f"{name}-given_on": tomorrow})
    assert answer.status_code == 400
    assert "is in the future" in errors(answer)[f"{name}-given_on"]
    assert "Given on, Newcomer 01 (N1): " in seen(answer)
    assert not Dose.objects.exists()


@pytest.mark.parametrize(
    "hostile",
    [
        {"rest": "moved"},
        {"rest": ""},
        {"p987654-outcome": "given"},
        {"p99999999999999999999-outcome": "given"},
        {"own-outcome": "moved"},
        {"own-outcome": "given", "own-given_on": "2026-02-30"},
        {"own-outcome": "given", "own-given_on": "0001-01-01"},
        {"own-outcome": "given", "own-batch": "x" * 61},
        {"own-outcome": "given", "own-product": "a\x00b"},
        {"own-outcome": "absent", "own-reason": "y" * 201},
        {"new0-number": "7\x00"},
        {"new0-number": "7", "new0-given_on": "31.12.9999"},
        {"new0-number": "' OR 1=1 --"},
    ],
    ids=lambda hostile: "+".join(hostile),
)
def test_hostile_input_is_refused_and_keeps_nothing(team: Team, hostile: dict[str, str]) -> None:
    session = planned(team)[0]
    own = names(session)[0]
    before = AuditEntry.objects.count()
    said = {name.replace("own", own): value for name, value in hostile.items()}
    answer = send(signed_in_as(team.liaison), session, **said)
    assert answer.status_code == 400 and answer.context["form"].errors
    assert not Dose.objects.exists() and set(outcomes(session)) == {"expected"}
    assert AuditEntry.objects.count() == before


def test_a_row_of_another_session_is_refused_though_its_person_is_on_both_lists(team: Team) -> None:
    first, second, *_rest = planned(team)
    answer = send(signed_in_as(team.liaison), first, rest="given", **{f"{names(second)[0]}-outcome": "given"})
    assert answer.status_code == 400
    assert "isn't on this session's list" in " ".join(answer.context["form"].non_field_errors())
    assert not Dose.objects.exists()


def test_an_old_page_is_told_what_was_noted_meanwhile_and_keeps_the_rest_once_mended(team: Team) -> None:
    session = planned(team)[0]
    first, second, _third = names(session)
    old_page = {"rest": "given", f"{first}-outcome": "absent", f"{second}-outcome": ""}
    send(signed_in_as(team.officer), session, batch="B1", **{f"{first}-outcome": "given"})
    answer = send(signed_in_as(team.liaison), session, batch="B2", **old_page)
    assert answer.status_code == 409
    html = answer.content.decode()
    assert "batch: B1) is on record for this list already" in html
    assert f'name="{first}-outcome"' not in html and f'name="{second}-outcome"' in html
    send(signed_in_as(team.liaison), session, batch="B2", rest="given")
    assert sorted(Dose.objects.values_list("batch", flat=True)) == ["B1", "B2", "B2"]


def test_the_answer_says_which_dose_doesnt_count(team: Team) -> None:
    session, now = planned(team)[0], real_now()
    early = make_person(team.site, team.officer, now, number="E1", name="Early Person")
    yesterday = session.held_on - timedelta(days=1)
    dose_record(actor=team.officer, person=early, given_on=yesterday, route="ID", now=now)
    liaison = signed_in_as(team.liaison)
    answer = send(liaison, session, new0__number="E1")
    html = seen(liaison.get(answer["Location"])).replace("&#x27;", "'")
    assert "The dose of Early Person is on record and doesn't count: 6 days too early." in html


def test_nothing_is_kept_before_who_came_unplanned_was_shown_by_name(team: Team) -> None:
    session, liaison = planned(team)[0], signed_in_as(team.liaison)
    other = make_person(team.site, team.officer, real_now(), number="8", name="Other Person")
    url, said = reverse("session-given", args=[session.pk]), {"rest": "given", "new0-number": "7"}
    shown = liaison.post(url, said)
    html = shown.content.decode()
    assert "<strong>Test Member</strong>" in html and "would be noted as dose 1." in html
    assert "No dose on record" in html and not Dose.objects.exists()
    assert AuditEntry.objects.filter(action="record.seen", person=team.person, actor=team.liaison).exists()
    swapped = liaison.post(url, said | {"new0-number": "8", "named": shown.context["mark"]})
    assert "<strong>Other Person</strong>" in swapped.content.decode() and not Dose.objects.exists()
    emptied = {"rest": "expected", "new0-number": "", "named": shown.context["mark"]}
    assert liaison.post(url, emptied).status_code == 302 and not Dose.objects.exists()
    assert liaison.post(url, said | {"named": shown.context["mark"]}).status_code == 302
    assert team.person.doses.exists() and not other.doses.exists()


@pytest.mark.parametrize("why", ["Low titre.", "Immunocompromised."])
def test_nobody_gets_a_dose_on_record_here_that_the_clinician_has_to_order(team: Team, why: str) -> None:
    session, now = planned(team)[0], real_now()
    give_doses(team.person, team.officer, now, 900, 893, 879)
    if why == "Low titre.":
        day = team.site.local_date(now) - timedelta(days=3)
        titre_record(actor=team.officer, person=team.person, taken_on=day, iu_per_ml=Decimal("0.49"), now=now)
    else:
        immunocompromised_set(
            actor=team.officer, person=team.person, immunocompromised=True, reason="letter", now=now
        )
    answer = send(signed_in_as(team.liaison), session, rest="given", new0__number="7")
    assert answer.status_code == 400
    assert errors(answer)["new0-number"].startswith(f"{why} The program proposes no dose: ask the clinician.")
    assert Dose.objects.count() == 3 and set(outcomes(session)) == {"expected"}
    note = Note("new0", team.person.pk, "given", planned=False)
    with pytest.raises(Invalid, match=why):
        session_record(actor=team.liaison, session=session, notes=[note], now=now)


def test_a_dose_on_record_for_that_day_is_no_second_one(team: Team) -> None:
    session, now = planned(team)[0], real_now()
    dose_record(actor=team.officer, person=team.person, given_on=session.held_on, route="ID", now=now)
    answer = send(signed_in_as(team.liaison), session, rest="given", new0__number="7")
    assert answer.status_code == 409
    assert "on record already" in errors(answer)["new0-given_on"]
    assert Dose.objects.count() == 1


def test_a_session_ahead_offers_no_form_and_refuses_one_sent_anyway(team: Team) -> None:
    ahead, officer = planned(team)[-1], signed_in_as(team.officer)
    html = officer.get(reverse("session", args=[ahead.pk])).content.decode()
    assert reverse("session-given", args=[ahead.pk]) not in html
    assert "a button to note who came" in html
    assert send(officer, ahead, rest="given").status_code == 409
    assert not Dose.objects.exists()


def test_a_full_session_fits_the_form(team: Team, settings: Any) -> None:
    """A thousand people, five fields each: more than Django takes unless it is told to."""
    session = planned(team)[0]
    said = {f"{names(session)[0]}-outcome": "given"} | {f"more-{number}": "" for number in range(5000)}
    assert send(signed_in_as(team.liaison), session, **said).status_code == 302
    assert Dose.objects.count() == 1
