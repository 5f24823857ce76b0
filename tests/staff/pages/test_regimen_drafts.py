"""The pages of the regimen table's workflow: copy, edit, submit, approve, withdraw, retire; the file; the drawing."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from staff.models import Regimen, RegimenApproval, SiteRole
from staff.pages.record.timeline import NARROW, WIDE
from staff.services.regimen.approvals import regimen_withdraw
from tests.factories import POST_EXPOSURE, PRE_EXPOSURE, REGIMENS, Team
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.regimen_scenes import approve_by, draft_of, second_officer, submitted_of

FIRST = [("0", "0", "0"), ("7", "7", "7"), ("21", "28", "14")]


def _form(rows: list[tuple[str, str, str]], **fields: Any) -> dict[str, Any]:
    data: dict[str, Any] = {
        "name": "Ours", "purpose": "pre-exposure", "routes": ["IM", "ID"], "for_whom": "anyone",
        "source": "letter 6 of the office", "source_kind": "published",
        "steps-TOTAL_FORMS": len(rows) + 2, "steps-INITIAL_FORMS": len(rows),
    }  # fmt: skip
    for index, (day, latest, gap) in enumerate([*rows, ("", "", ""), ("", "", "")]):
        data |= {
            f"steps-{index}-day": day,
            f"steps-{index}-latest_day": latest,
            f"steps-{index}-smallest_gap": gap,
        }
    return data | fields


def test_an_officer_copies_a_version_and_lands_on_its_draft(team: Team) -> None:
    officer = signed_in_as(team.officer)
    answer = officer.post(reverse("regimen-copy", args=[PRE_EXPOSURE, 1]), {"code": PRE_EXPOSURE})
    assert answer["Location"] == reverse("regimen-edit", args=[PRE_EXPOSURE, 2])
    html = officer.get(answer["Location"]).content.decode()
    assert 'name="steps-2-latest_day" value="28"' in html
    assert officer.post(reverse("regimen-copy", args=[PRE_EXPOSURE, 1]), {"code": "a b"}).status_code == 400
    taken = officer.post(reverse("regimen-copy", args=[PRE_EXPOSURE, 1]), {"code": "prep-im-0-7"})
    assert taken.status_code == 409


def test_a_draft_is_edited_step_by_step(team: Team, now: datetime) -> None:
    draft = draft_of(team, now)
    url = reverse("regimen-edit", args=[draft.code, draft.version])
    answer = signed_in_as(team.officer).post(url, _form([*FIRST[:2], ("28", "", "21")]))
    assert answer.status_code == 302
    draft.refresh_from_db()
    assert (draft.name, draft.routes) == ("Ours", ["IM", "ID"])
    assert list(draft.steps.values_list("number", "day", "latest_day", "smallest_gap", "injections")) == [
        (1, 0, 0, 0, 1),
        (2, 7, 7, 7, 1),
        (3, 28, 28, 21, 1),
    ]


def test_a_step_emptied_is_dropped_and_a_half_filled_one_is_asked_about(team: Team, now: datetime) -> None:
    draft = draft_of(team, now)
    url, officer = reverse("regimen-edit", args=[draft.code, draft.version]), signed_in_as(team.officer)
    half = officer.post(url, _form([*FIRST[:2], ("", "28", "")]))
    assert half.status_code == 400
    assert 'href="#id_steps-2-day"' in half.content.decode()
    backwards = officer.post(url, _form([*FIRST[:2], ("21", "20", "14")]))
    assert 'href="#id_steps-2-latest_day"' in backwards.content.decode()
    assert draft.steps.count() == 3
    assert officer.post(url, _form([*FIRST[:2], ("", "", "")])).status_code == 302
    assert draft.steps.count() == 2


def test_a_draft_that_contradicts_itself_is_kept_and_its_faults_are_named_at_once(
    team: Team, now: datetime
) -> None:
    draft, officer = draft_of(team, now), signed_in_as(team.officer)
    url = reverse("regimen-edit", args=[draft.code, draft.version])
    answer = officer.post(url, _form([*FIRST[:2], ("5", "28", "0")]), follow=True)
    assert answer.redirect_chain[-1][0] == url
    assert draft.steps.get(number=3).day == 5
    html = answer.content.decode()
    told = "Step 3, day: must lie after the day of the step before."
    assert f'<a href="#id_steps-2-day">{told}</a>' in html and html.count(told) == 2
    assert "The draft is saved, and can" in html and 'id="id_steps-2-day"' in html
    mended = officer.post(url, _form(FIRST), follow=True).content.decode()
    assert "The draft is saved." in mended and "To mend before" not in mended


def test_what_is_no_draft_has_no_page_to_edit_it(team: Team, now: datetime) -> None:
    submitted = submitted_of(team, now)
    officer = signed_in_as(team.officer)
    for version in (1, submitted.version):
        url = reverse("regimen-edit", args=[PRE_EXPOSURE, version])
        assert officer.get(url).status_code == 404
        assert officer.post(url, _form(FIRST)).status_code == 404


def test_submitting_a_contradiction_says_which_step(team: Team, now: datetime) -> None:
    draft, officer = draft_of(team, now), signed_in_as(team.officer)
    officer.post(reverse("regimen-edit", args=[draft.code, 2]), _form([*FIRST[:2], ("21", "28", "15")]))
    answer = officer.post(reverse("regimen-submit", args=[draft.code, 2]))
    assert answer.status_code == 400
    assert "Step 3, smallest gap:" in answer.content.decode()
    officer.post(reverse("regimen-edit", args=[draft.code, 2]), _form(FIRST))
    assert officer.post(reverse("regimen-submit", args=[draft.code, 2])).status_code == 302


def test_the_drafter_is_refused_with_a_sentence_and_another_officer_approves(
    team: Team, now: datetime
) -> None:
    submitted, second = submitted_of(team, now), second_officer(team)
    url = reverse("regimen-approve", args=[submitted.code, submitted.version])
    data = {"site": team.site.pk, "authority": "Office", "approved_on": "2026-01-01", "document": "letter 6"}
    data |= {"confirmed": "1", "previewed": team.site.code}
    own = signed_in_as(team.officer).post(url, data)
    assert own.status_code == 403
    assert "another officer has to approve it" in own.content.decode()
    assert signed_in_as(second).post(url, data).status_code == 302
    approval = RegimenApproval.objects.get(regimen=submitted)
    assert (approval.approved_by, approval.document) == (second, "letter 6")
    html = (
        signed_in_as(second).get(reverse("regimen", args=[submitted.code]), {"version": "2"}).content.decode()
    )
    assert "letter 6" in html
    assert "Submitted for approval" in html


def test_who_had_a_hand_in_a_version_is_told_so_and_offered_no_approval(team: Team, now: datetime) -> None:
    submitted, second = submitted_of(team, now), second_officer(team)
    page = f"{reverse('regimen', args=[submitted.code])}?version={submitted.version}"
    approve = reverse("regimen-approve", args=[submitted.code, submitted.version])
    own = signed_in_as(team.officer).get(page).content.decode()
    assert approve not in own
    assert "another officer has to note its approval" in own
    assert "copied from prep-im-0-7-21 v1" in own
    assert approve in signed_in_as(second).get(page).content.decode()


def test_an_approval_is_withdrawn_with_a_reason_which_the_page_then_shows(team: Team) -> None:
    approval = RegimenApproval.objects.get(site=team.site, regimen__code=PRE_EXPOSURE)
    url, officer = reverse("approval-withdraw", args=[approval.pk]), signed_in_as(team.officer)
    assert officer.post(url, {"why": ""}).status_code == 400
    data = {"why": "recalled by letter 9", "confirmed": "1", "previewed": team.site.code}
    assert officer.post(url, data).status_code == 302
    html = officer.get(reverse("regimen", args=[PRE_EXPOSURE])).content.decode()
    assert "recalled by letter 9" in html
    assert officer.post(url, data | {"why": "again"}).status_code == 409


def test_retiring_asks_why_and_is_refused_while_a_site_uses_the_version(team: Team) -> None:
    officer = signed_in_as(team.officer)
    used = officer.post(reverse("regimen-retire", args=[PRE_EXPOSURE, 1]), {"why": "old"})
    assert used.status_code == 409
    assert "approved at" in used.content.decode()
    unused = officer.post(reverse("regimen-retire", args=["prep-im-0-7", 1]), {"why": "old"})
    assert unused.status_code == 403
    row = Regimen.objects.get(code="prep-im-0-7")
    approve_by(team.officer, team, row, real_now())
    approval = RegimenApproval.objects.get(regimen=row)
    regimen_withdraw(actor=team.officer, approval=approval, why="replaced", now=real_now())
    assert officer.post(reverse("regimen-retire", args=["prep-im-0-7", 1]), {"why": "old"}).status_code == 302
    assert Regimen.objects.get(code="prep-im-0-7").state == "retired"
    offered = officer.get(reverse("dose-add", args=[team.person.pk])).content.decode()
    assert "Two doses into the muscle" in offered, "a dose given by it can still be put on record"


def test_a_draft_is_seen_by_officers_alone(team: Team, now: datetime) -> None:
    draft = draft_of(team, now)
    url = reverse("regimen", args=[draft.code])
    assert signed_in_as(team.officer).get(url, {"version": "2"}).status_code == 200
    assert signed_in_as(team.member).get(url, {"version": "2"}).status_code == 404
    for viewer, seen in ((team.officer, True), (team.member, False), (team.liaison, False)):
        groups = signed_in_as(viewer).get(reverse("regimens")).context["groups"]
        assert (draft in [row for _label, rows in groups for row, _where in rows]) is seen
    offered = signed_in_as(team.officer).get(reverse("dose-add", args=[team.person.pk]))
    assert draft not in offered.context["form"].fields["regimen"].queryset


def test_without_a_number_the_page_shows_the_version_in_use(team: Team, now: datetime) -> None:
    draft_of(team, now)
    shown = signed_in_as(team.officer).get(reverse("regimen", args=[PRE_EXPOSURE])).context["regimen"]
    assert shown.version == 1


def _upload(content: bytes) -> dict[str, Any]:
    return {"file": SimpleUploadedFile("table.json", content, "application/json")}


def test_the_table_is_downloaded_and_brought_in_by_the_page(team: Team) -> None:
    officer, url = signed_in_as(team.officer), reverse("regimens-file")
    got = officer.get(reverse("regimens-download"))
    assert got.content == REGIMENS.read_bytes()
    assert got["Content-Disposition"] == 'attachment; filename="regimens.json"'
    again = officer.post(url, _upload(got.content), follow=True)
    assert (
        f"0 new drafts. {Regimen.objects.count()} versions stand in the table already."
        in again.content.decode()
    )
    ours = got.content.replace(b'"prep-im-0-7-21"', b'"ours"')
    assert "1 new draft." in officer.post(url, _upload(ours), follow=True).content.decode()
    assert Regimen.objects.get(code="ours").state == "draft"


def test_a_file_with_faults_is_refused_and_each_is_listed(team: Team) -> None:
    broken = REGIMENS.read_bytes().replace(b'"booster"', b'"cure"').replace(b'"prep-im-0-7-21"', b'"<b>ours"')
    answer = signed_in_as(team.officer).post(reverse("regimens-file"), _upload(broken))
    html = answer.content.decode()
    assert answer.status_code == 400
    assert "Row 9 (booster-im), field “purpose”" in html
    assert "Row 1 (&lt;b&gt;ours), field “code”" in html
    assert "Nothing was imported" in html
    assert not Regimen.objects.filter(state="draft").exists()
    assert signed_in_as(team.officer).post(reverse("regimens-file"), {}).status_code == 400


def test_tried_dates_are_drawn_with_the_plan(team: Team) -> None:
    """Day-7 dose on day 10: ACIP 2010 with its published answers, the next due on days 17 and 31."""
    asked = {"on": "2026-04-30", "dose_1": "2026-03-02", "dose_2": "2026-03-05", "dose_3": "2026-03-12"}
    answer = signed_in_as(team.member).get(reverse("regimen", args=[POST_EXPOSURE]), asked)
    wide, narrow = answer.context["drawings"]
    assert (wide.sheet, narrow.sheet) == (WIDE, NARROW)
    for drawing in (wide, narrow):
        entered = [mark for mark in drawing.marks if mark.kind == "counts"]
        due = {mark.text: mark.x for mark in drawing.marks if mark.kind == "due"}
        assert [mark.text for mark in entered] == ["1", "2", "3"]
        per_day = (due["5"] - due["4"]) / 14
        assert abs(due["4"] - entered[2].x - 7 * per_day) <= 1.5
        assert 2 <= len(drawing.ticks) <= drawing.sheet.most_ticks + 1
    assert answer.content.decode().count("<svg") == 2


def test_a_window_is_drawn_as_a_bar_and_the_end_of_the_calendar_does_no_harm(team: Team) -> None:
    member, url = signed_in_as(team.member), reverse("regimen", args=[PRE_EXPOSURE])
    drawing = member.get(url, {"on": "2026-01-01", "dose_1": "2026-01-01"}).context["drawings"][0]
    assert [bar.kind for bar in drawing.bars] == ["clear"]
    for day in ("0001-01-01", "9999-12-31"):
        assert member.get(url, {"on": day, "dose_1": day}).status_code in (200, 400)


def test_a_new_regimen_is_drafted_from_nothing_under_a_code_that_is_free(team: Team) -> None:
    officer, url = signed_in_as(team.officer), reverse("regimen-add")
    assert officer.get(url).status_code == 200
    unnamed = officer.post(url, _form(FIRST))
    assert unnamed.status_code == 400 and 'href="#id_code"' in unnamed.content.decode()
    taken = officer.post(url, _form(FIRST, code=PRE_EXPOSURE))
    assert taken.status_code == 409 and "choose a code that is new" in taken.content.decode()
    made = officer.post(url, _form(FIRST, code="ours"))
    assert made["Location"] == f"{reverse('regimen', args=['ours'])}?version=1"
    row = Regimen.objects.get(code="ours")
    assert (row.version, row.state, row.drafted_by, row.steps.count()) == (1, "draft", team.officer, 3)
    assert signed_in_as(team.liaison).post(url, _form(FIRST, code="theirs")).status_code == 403
    assert not Regimen.objects.filter(code="theirs").exists()


def test_a_draft_is_changed_and_submitted_by_officers_of_the_site_it_was_drafted_at(
    team: Team, now: datetime
) -> None:
    draft, elsewhere = draft_of(team, now), signed_in_as(team.stranger)
    page = f"{reverse('regimen', args=[draft.code])}?version={draft.version}"
    edit = reverse("regimen-edit", args=[draft.code, draft.version])
    for name, data in (("edit", _form(FIRST)), ("submit", {}), ("retire", {"why": "x"})):
        answer = elsewhere.post(reverse(f"regimen-{name}", args=[draft.code, draft.version]), data)
        assert answer.status_code == 403, name
    assert edit not in elsewhere.get(page).content.decode()
    assert edit in signed_in_as(second_officer(team)).get(page).content.decode()
    SiteRole.objects.filter(user=team.officer).delete()
    SiteRole.objects.filter(site=team.site).delete()
    assert elsewhere.post(edit, _form(FIRST)).status_code == 302, "no draft is left to nobody"
