"""Documents: looked at by content, kept apart, read by whom the record is read, checked by a second person."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.models import Certificate, DocumentKind, Dose, DoseStanding, Person
from staff.selectors.record.documents import path_of
from staff.selectors.record.readiness import readiness_of
from staff.selectors.record.records import clearance_of
from staff.services.record import document_files
from staff.services.record.certificates import certificate_add, certificate_verify
from staff.services.record.document_files import content_type_of
from staff.services.record.letters import immunocompromised_set, letter_add, letter_void
from staff.services.record.records import dose_record
from tests.documents import pdf, picture
from tests.factories import Team, give_doses

pytestmark = pytest.mark.django_db


def undocumented(team: Team, now: datetime) -> list[Dose]:
    """A complete series nobody has seen a document of."""
    today = team.site.local_date(now)
    return [
        dose_record(
            actor=team.officer,
            person=team.person,
            given_on=today - timedelta(days=ago),
            route="IM",
            evidence="none",
            now=now,
        )
        for ago in (30, 23, 9)
    ]


def kept(team: Team, now: datetime, kind: str = DocumentKind.CERTIFICATE) -> Certificate:
    return certificate_add(actor=team.officer, person=team.person, kind=kind, content=picture(), now=now)


def clear_today(team: Team, now: datetime) -> bool:
    person = Person.objects.select_related("site__rules").get(pk=team.person.pk)
    return readiness_of(person, team.site.local_date(now)).clear


@pytest.mark.parametrize(
    ("content", "found"),
    [(pdf(), "application/pdf"), (picture(), "image/png"), (picture(kind="JPEG"), "image/jpeg")],
)
def test_a_document_is_what_its_content_says(content: bytes, found: str) -> None:
    assert content_type_of(content) == found


def test_a_picture_with_more_pixels_than_are_looked_at_is_refused_before_it_is_decoded(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(document_files, "MOST_PIXELS", 16 * 16)
    assert content_type_of(picture()) == "image/png"
    monkeypatch.setattr(document_files, "MOST_PIXELS", 16 * 16 - 1)
    with pytest.raises(Invalid) as refused:
        content_type_of(picture())
    assert "too many pixels" in refused.value.fields["content"]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<html><script>alert(1)</script>",
        b"%PDF-1.7 and nothing of a PDF",
        b"%PDF-1.7\nstartxref\n99999999999999999999\n%%EOF",
        pdf(password="secret"),
        pdf(password="secret").replace(b"/Standard", b"/Strangerd"),
        picture()[:-30],
        picture(kind="GIF"),
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        pdf() + b" " * (5 * 1024 * 1024),
    ],
    ids=[
        "empty",
        "page",
        "half a pdf",
        "far table",
        "locked pdf",
        "other lock",
        "cut picture",
        "gif",
        "svg",
        "too big",
    ],
)
def test_anything_else_is_refused_in_words(content: bytes) -> None:
    with pytest.raises(Invalid) as refused:
        content_type_of(content)
    assert refused.value.fields["content"]


def test_a_certificate_clears_once_a_second_person_has_checked_it(team: Team, now: datetime) -> None:
    doses = undocumented(team, now)
    row = kept(team, now)
    assert not clear_today(team, now)
    assert set(DoseStanding.objects.values_list("reason", flat=True)) == {"unverified"}
    certificate_verify(actor=team.liaison, certificate=row, doses=doses, now=now)
    assert clear_today(team, now)
    assert list(DoseStanding.objects.values_list("step", flat=True)) == [1, 2, 3]


def test_who_sent_it_recorded_the_dose_or_is_the_person_checks_nothing(team: Team, now: datetime) -> None:
    doses, row = undocumented(team, now), kept(team, now)
    own = certificate_add(
        actor=team.liaison, person=team.person, kind="certificate", content=picture("x"), now=now
    )
    for actor, certificate in ((team.officer, row), (team.officer, own), (team.member, row)):
        with pytest.raises(NotAllowed):
            certificate_verify(actor=actor, certificate=certificate, doses=doses, now=now)
    assert not clear_today(team, now)


def test_a_document_is_checked_once_and_proves_no_dose_of_another_or_seen_before(
    team: Team, now: datetime
) -> None:
    seen = give_doses(team.person, team.officer, now, 60)
    row = kept(team, now)
    with pytest.raises(Invalid):
        certificate_verify(actor=team.liaison, certificate=row, doses=seen, now=now)
    certificate_verify(actor=team.liaison, certificate=row, doses=[], now=now)
    with pytest.raises(Conflict):
        certificate_verify(actor=team.liaison, certificate=row, doses=[], now=now)


def test_the_same_file_is_kept_once_and_a_refused_one_leaves_no_file(team: Team, now: datetime) -> None:
    row = kept(team, now)
    with pytest.raises(Conflict):
        kept(team, now)
    assert [path.name for path in path_of(row.key).parent.iterdir()] == [row.key.hex]
    assert path_of(row.key).stat().st_mode & 0o777 == 0o600


def test_a_letter_clears_when_checked_until_it_is_voided(team: Team, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    assert clear_today(team, now)
    immunocompromised_set(
        actor=team.officer, person=team.person, immunocompromised=True, reason="clinic said so", now=now
    )
    assert not clear_today(team, now)
    today = team.site.local_date(now)
    letter = letter_add(
        actor=team.officer,
        person=team.person,
        clinician="Test Clinician",
        signed_on=today,
        valid_until=today,
        content=picture("letter"),
        now=now,
    )
    assert not clear_today(team, now)
    certificate_verify(actor=team.liaison, certificate=letter.document, doses=[], now=now)
    assert clear_today(team, now)
    letter_void(actor=team.officer, letter=letter, reason="taken back", now=now)
    assert not clear_today(team, now)
    person = Person.objects.select_related("site__rules").get(pk=team.person.pk)
    assert not clearance_of(person).intervals


def test_a_file_is_sent_through_the_page_and_comes_back_as_a_download(
    team: Team, now: datetime, client: Client, monkeypatch: Any
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: now)
    client.force_login(team.officer)
    sent = SimpleUploadedFile("../../evil.html", picture("sent"), "text/html")
    answer = client.post(
        reverse("certificate-add", args=[team.person.pk]), {"kind": "certificate", "content": sent}
    )
    assert answer.status_code == 302
    row = Certificate.objects.get()
    answer = client.get(reverse("certificate-file", args=[row.key]))
    assert answer.getvalue() == picture("sent")
    assert answer["Content-Type"] == "image/png"
    assert answer["Content-Disposition"] == f'attachment; filename="document-{row.pk}.png"'
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_a_page_called_a_picture_is_refused_at_its_field(team: Team, client: Client) -> None:
    client.force_login(team.officer)
    sent = SimpleUploadedFile("card.png", b"<html>", "image/png")
    answer = client.post(
        reverse("certificate-add", args=[team.person.pk]), {"kind": "certificate", "content": sent}
    )
    assert answer.status_code == 400 and not Certificate.objects.exists()
    assert "no readable PDF or picture" in answer.content.decode()
