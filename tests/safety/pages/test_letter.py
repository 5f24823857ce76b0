"""The referral letter on its page and as a file: who may open it, in which language, from where."""

from __future__ import annotations

import pytest
from django.urls import reverse

from safety.models import Clinic
from safety.services.case.referrals import referral_make
from staff.models import AuditEntry, Site
from tests.factories import Team
from tests.safety.pages.scenes import make_case, real_now, signed_in_as, text_of

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("route", ["case-letter", "case-letter-file"])
def test_a_look_by_another_is_noted_and_ones_own_is_not(team: Team, route: str) -> None:
    url = reverse(route, args=[make_case(team).reference])
    for viewer, looks in ((team.member, 0), (team.liaison, 1), (team.officer, 2)):
        assert signed_in_as(viewer).get(url).status_code == 200
        assert AuditEntry.objects.filter(action="record.seen", target__endswith=":letter").count() == looks
    for viewer in (team.stranger, team.lead):
        assert signed_in_as(viewer).get(url).status_code in (403, 404)


def test_the_file_is_a_pdf_named_by_the_reference_and_kept_by_no_proxy(team: Team) -> None:
    incident = make_case(team)
    answer = signed_in_as(team.liaison).get(reverse("case-letter-file", args=[incident.reference]))
    assert answer["Content-Type"] == "application/pdf" and answer.content.startswith(b"%PDF")
    assert answer["Content-Disposition"] == f'inline; filename="{incident.reference}-en.pdf"'
    assert "no-store" in answer["Cache-Control"]


def test_it_is_written_in_the_sites_language_and_offered_in_the_clinics(team: Team) -> None:
    Site.objects.filter(pk=team.site.pk).update(language="fr")
    Clinic.objects.update(language="es")
    incident = make_case(team)
    referral_make(actor=team.liaison, incident=incident, clinic=team.clinic, now=real_now())
    url = reverse("case-letter", args=[incident.reference])
    client = signed_in_as(team.liaison)
    assert "Dossier de vaccination" in text_of(client.get(url))
    html = client.get(url).content.decode()
    assert html.index("?language=fr") < html.index("?language=es") < html.index("?language=en")
    assert "Registro de vacunación" in text_of(client.get(url, {"language": "es"}))
    # The page around it stays in the reader's language.
    assert "Back to the case" in text_of(client.get(url, {"language": "es"}))
    assert '<article class="letter" lang="es">' in client.get(url, {"language": "es"}).content.decode()


def test_a_language_no_letter_is_written_in_gives_the_sites(team: Team) -> None:
    url = reverse("case-letter", args=[make_case(team).reference])
    page = signed_in_as(team.liaison).get(url, {"language": "../../etc"})
    assert page.status_code == 200 and "Immunisation record" in text_of(page)


def test_it_goes_to_the_clinic_referred_to_last_and_before_that_to_the_one_to_choose_now(team: Team) -> None:
    incident = make_case(team)
    url, client = reverse("case-letter", args=[incident.reference]), signed_in_as(team.liaison)
    assert "To: the clinician on duty" in text_of(client.get(url))
    Clinic.objects.create(site=team.site, name="Round Clock", phone="000 7", hours="24/7", vaccine="yes")
    assert "To: Round Clock" in text_of(client.get(url))
    referral_make(actor=team.liaison, incident=incident, clinic=team.clinic, now=real_now())
    assert "To: Test Clinic, 000 1" in text_of(client.get(url))


def test_the_case_links_to_its_letter_for_whoever_sees_the_case(team: Team) -> None:
    incident = make_case(team)
    for viewer in (team.member, team.liaison, team.officer):
        html = signed_in_as(viewer).get(reverse("case", args=[incident.reference])).content.decode()
        assert reverse("case-letter", args=[incident.reference]) in html


def test_the_case_says_what_raises_its_urgency(team: Team) -> None:
    text = text_of(signed_in_as(team.member).get(reverse("case", args=[make_case(team).reference])))
    assert "To be seen the same day, with more urgency: Hand or fingers." in text
    near_miss = make_case(team, kind="near-miss", wounds=())
    assert "Urgency" not in text_of(
        signed_in_as(team.member).get(reverse("case", args=[near_miss.reference]))
    )
