"""The officer brings a list in on the pages; nobody else sees it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import cast

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.signals import request_finished
from django.db import close_old_connections
from django.http import StreamingHttpResponse
from django.test import Client, RequestFactory, override_settings
from django.urls import reverse
from django.utils import timezone

from staff.models import AuditEntry, Dose, ImportDraft, Person, User
from staff.pages.importing import importing
from tests.factories import Team
from tests.staff.imports.lists import FIXTURES, everything, lines

pytestmark = pytest.mark.django_db
GOOD = lines("Number,Name,Dose 1,Remarks", "9,<b>Ba</b>,13/01/2026,x", "8,Lo,,")


def client_of(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def send(client: Client, team: Team, content: bytes = GOOD, name: str = "list.csv") -> ImportDraft:
    file = SimpleUploadedFile(name, content)
    answer = client.post(reverse("import"), {"site": team.site.pk, "file": file})
    draft = ImportDraft.objects.get()
    assert answer.status_code == 302 and answer["Location"] == reverse("import-draft", args=[draft.key])
    return draft


def choose(client: Client, draft: ImportDraft, date_format: str = "day-month-year", **changes: str) -> str:
    data = {f"column_{column}": field for column, field in draft.mapping.items()}
    data |= {"date_format": date_format, "evidence": "certificate-seen"} | changes
    answer = client.post(reverse("import-draft", args=[draft.key]), data, follow=True)
    return answer.content.decode()


def confirm(client: Client, draft: ImportDraft, seen: str | None = None) -> str:
    if seen is None:
        seen = client.get(reverse("import-draft", args=[draft.key])).context["seen"]
    answer = client.post(reverse("import-apply", args=[draft.key]), {"seen": seen})
    chunks = cast(Iterator[bytes], cast(StreamingHttpResponse, answer).streaming_content)
    return b"".join(chunks).decode()


def test_the_officer_sends_chooses_confirms_and_sees_the_progress(team: Team) -> None:
    client = client_of(team.officer)
    draft = send(client, team)
    page = client.get(reverse("import-draft", args=[draft.key])).content.decode()
    assert "1 problem" in page and "C Dose 1" in page and "13/01/2026" in page
    assert 'name="seen"' not in page
    page = choose(client, draft)
    assert "ready" in page and 'name="seen"' in page
    assert not Person.objects.filter(number="9").exists()
    page = confirm(client, draft)
    assert (
        page.index("2 of 2 rows read")
        < page.index("2 of 2 people compared")
        < page.index("2 of 2 people written")
    )
    assert "Imported" in page and page.rstrip().endswith("</html>")
    assert Dose.objects.get().given_on.isoformat() == "2026-01-13"


def test_names_from_the_list_are_shown_as_text(team: Team) -> None:
    client = client_of(team.officer)
    page = choose(client, send(client, team))
    assert "&lt;b&gt;Ba&lt;/b&gt;" in page and "<b>Ba</b>" not in page


def test_once_imported_the_cells_are_gone_and_confirming_again_changes_nothing(team: Team) -> None:
    client = client_of(team.officer)
    draft = send(client, team)
    choose(client, draft)
    confirm(client, draft)
    draft.refresh_from_db()
    assert draft.sheet == {} and draft.applied_at is not None
    before = everything()
    assert "imported or discarded already" in confirm(client, draft, seen="x")
    page = client.get(reverse("import-draft", args=[draft.key])).content.decode()
    assert "people added" in page
    assert everything() == before


def test_confirming_what_one_did_not_see_is_refused(team: Team) -> None:
    client = client_of(team.officer)
    draft = send(client, team)
    choose(client, draft)
    seen = client.get(reverse("import-draft", args=[draft.key])).context["seen"]
    choose(client, draft, evidence="none")
    before = everything()
    assert "changed since you looked" in confirm(client, draft, seen)
    assert everything() == before


def test_a_list_with_a_problem_is_not_imported_even_when_confirmed_by_hand(team: Team) -> None:
    client = client_of(team.officer)
    draft = send(client, team)
    choose(client, draft, date_format="iso")
    before = everything()
    page = confirm(client, draft)
    assert "Nothing was imported" in page and "1 problem stands" in page
    assert everything() == before


def test_a_failure_says_that_nothing_was_written_and_is_not_swallowed(
    team: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = client_of(team.officer)
    draft = send(client, team)
    choose(client, draft)
    seen = client.get(reverse("import-draft", args=[draft.key])).context["seen"]

    def failing(**_: object) -> Iterator[None]:
        raise RuntimeError("the power went")
        yield

    monkeypatch.setattr(importing, "draft_apply", failing)
    before = everything()
    answer = client.post(reverse("import-apply", args=[draft.key]), {"seen": seen})
    shown = []
    with pytest.raises(RuntimeError, match="the power went"):
        for chunk in cast(Iterator[bytes], cast(StreamingHttpResponse, answer).streaming_content):
            shown.append(chunk)
    assert "Nothing was imported" in b"".join(shown).decode()
    assert everything() == before


def test_leaving_the_page_while_it_writes_leaves_nothing(team: Team, rf: RequestFactory) -> None:
    client = client_of(team.officer)
    rows = (f"{number},P{number},2026-01-05" for number in range(20, 60))
    draft = send(client, team, lines("Number,Name,Dose 1", *rows))
    choose(client, draft, date_format="iso")
    seen = client.get(reverse("import-draft", args=[draft.key])).context["seen"]
    before = everything()
    request = rf.post(reverse("import-apply", args=[draft.key]), {"seen": seen})
    request.user = team.officer
    answer = cast(StreamingHttpResponse, importing.apply(request, key=draft.key))
    chunks = cast(Iterator[bytes], answer.streaming_content)
    assert any(b"people written" in chunk for chunk in chunks)
    assert Person.objects.filter(number="20").exists()
    # As a server does when the reader is gone; only the test's own connection must outlive it.
    request_finished.disconnect(close_old_connections)
    try:
        answer.close()
    finally:
        request_finished.connect(close_old_connections)
    assert everything() == before
    draft.refresh_from_db()
    assert draft.applied_at is None


@pytest.mark.parametrize("name", ["liaison", "lead", "member"])
def test_who_isnt_an_officer_is_turned_away(team: Team, name: str) -> None:
    draft = send(client_of(team.officer), team)
    client = client_of(getattr(team, name))
    assert client.get(reverse("import")).status_code == 403
    assert client.get(reverse("import-draft", args=[draft.key])).status_code == 403
    assert client.post(reverse("import-apply", args=[draft.key])).status_code == 403
    assert client.post(reverse("import-discard", args=[draft.key])).status_code == 403


def test_the_officer_of_another_site_finds_nothing_and_cannot_send_there(team: Team) -> None:
    draft = send(client_of(team.officer), team)
    client = client_of(team.stranger)
    assert "list.csv" not in client.get(reverse("import")).content.decode()
    assert client.get(reverse("import-draft", args=[draft.key])).status_code == 404
    assert client.post(reverse("import-apply", args=[draft.key])).status_code == 404
    assert client.post(reverse("import-discard", args=[draft.key])).status_code == 404
    file = SimpleUploadedFile("list.csv", GOOD)
    assert client.post(reverse("import"), {"site": team.site.pk, "file": file}).status_code == 400
    assert ImportDraft.objects.count() == 1


def test_a_discarded_list_is_gone(team: Team) -> None:
    client = client_of(team.officer)
    draft = send(client, team)
    answer = client.post(reverse("import-discard", args=[draft.key]), follow=True)
    assert "nothing was imported" in answer.content.decode()
    assert not ImportDraft.objects.exists()
    assert client.get(reverse("import-discard", args=[draft.key])).status_code == 405


def test_an_unconfirmed_list_older_than_a_week_goes_with_the_next_upload(team: Team) -> None:
    client = client_of(team.officer)
    old = send(client, team)
    ImportDraft.objects.update(uploaded_at=timezone.now() - timedelta(days=8))
    client.post(reverse("import"), {"site": team.site.pk, "file": SimpleUploadedFile("new.csv", GOOD)})
    assert not ImportDraft.objects.filter(key=old.key).exists()
    assert ImportDraft.objects.get().file_name == "new.csv"


def test_a_file_that_is_no_list_is_refused_on_its_field(team: Team) -> None:
    client = client_of(team.officer)
    answer = client.post(
        reverse("import"), {"site": team.site.pk, "file": SimpleUploadedFile("a.xlsx", b"%PDF-1")}
    )
    assert answer.status_code == 400
    assert "no spreadsheet" in str(answer.context["form"].errors["file"])
    with override_settings(IMPORT_MAX_BYTES=10):
        answer = client.post(
            reverse("import"), {"site": team.site.pk, "file": SimpleUploadedFile("a.csv", GOOD)}
        )
    assert "larger than" in str(answer.context["form"].errors["file"])
    assert not ImportDraft.objects.exists()


def test_without_the_evidence_chosen_the_page_says_so_and_offers_no_confirmation(team: Team) -> None:
    client = client_of(team.officer)
    draft = send(client, team, lines("Number,Name", "9,Ba"))
    page = client.get(reverse("import-draft", args=[draft.key])).content.decode()
    assert "say what the dates rest on" in page and 'name="seen"' not in page
    answer = client.post(reverse("import-draft", args=[draft.key]), {"date_format": "iso"})
    assert answer.status_code == 400 and "evidence" in answer.context["form"].errors


def test_the_officer_may_give_a_column_another_meaning(team: Team) -> None:
    client = client_of(team.officer)
    draft = send(client, team, lines("Code,Name,Jab", "9,Ba,2026-01-05"))
    assert (
        "No column is the staff number"
        in client.get(reverse("import-draft", args=[draft.key])).content.decode()
    )
    page = choose(client, draft, date_format="iso", column_0="number", column_2="dose-1")
    assert "ready" in page
    confirm(client, draft)
    assert Dose.objects.get().person.number == "9"


def test_the_upload_is_written_to_the_audit_trail(team: Team) -> None:
    draft = send(client_of(team.officer), team)
    entry = AuditEntry.objects.get(action="import.uploaded")
    assert (entry.actor, entry.site, entry.target) == (team.officer, team.site, f"import:{draft.key}")
    assert "Ba" not in str(entry.detail)


def test_the_problem_sample_is_shown_by_row_and_column(team: Team) -> None:
    client = client_of(team.officer)
    draft = send(client, team, (FIXTURES / "staff_sample_problems.csv").read_bytes())
    page = client.get(reverse("import-draft", args=[draft.key]))
    assert page.context["problem_count"] == 18
    assert [row["row"] for row in page.context["problems"]] == [str(row) for row in range(3, 21)]
