"""What happened to one mail, from the plan to the answer of the mail server, and sending it again."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from safety.errors import Conflict, Invalid
from safety.models import MailboxMessage, Notice, NoticeEvent
from safety.outbox.claims import claim_next, put_back, settle_sent
from safety.outbox.states import LEASE, State
from safety.pages.notices.notice import event_words
from safety.services.notices.bounces import bounce_take
from safety.services.notices.resending import notice_send_again
from safety.services.notices.sending import send_due
from safety.services.notices.undelivered import notice_fail
from staff.models import AuditEntry, User
from tests.factories import Team
from tests.safety.outbox.reports import report_of
from tests.safety.outbox.samples import make_due_today, make_notice
from tests.safety.pages.scenes import make_case, real_now, signed_in_as, start_course, text_of

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


def life(user: User, notice: Notice) -> str:
    return text_of(signed_in_as(user).get(reverse("notice", args=[notice.pk])))


def taken(team: Team, **changes: object) -> Notice:
    now = real_now()
    make_notice(
        team.site, now - MINUTE, now - MINUTE, user=team.liaison, email="liaison@example.org", **changes
    )
    claimed = claim_next(now)
    assert claimed is not None
    return claimed


def test_the_whole_life_stands_on_the_page_in_words(team: Team) -> None:
    claimed, now = taken(team), real_now()
    put_back(claimed, now=now, why="451 greylisted")
    again = claim_next(now + 10 * MINUTE)
    assert again is not None and settle_sent(again, now=now + 11 * MINUTE)
    settle_sent(claimed, now=now + 12 * MINUTE)
    again.refresh_from_db()
    bounce_take(content=report_of(again), now=now + 20 * MINUTE)
    said = life(team.officer, again)
    for words in (
        "A worker took it to send it",
        "It couldn't be sent and waits for another try",
        "451 greylisted",
        "The mail server took it",
        "A second copy may have left",
        "2 at most, all with this Message-ID",
        "It came back: refused for good",
        "550 5.1.1 no such user",
        "after it was due",
        "What came after it",
        again.message_id.strip("<>"),
    ):
        assert words in said.replace("&#x27;", "'"), words


def test_what_came_of_it_and_what_it_came_of_lead_to_each_other(team: Team) -> None:
    claimed = taken(team)
    notice_fail(notice=claimed, why="550 no", now=real_now())
    child = Notice.objects.get(key__startswith=f"undelivered-{claimed.pk}:")
    page = signed_in_as(team.officer).get(reverse("notice", args=[claimed.pk]))
    assert reverse("notice", args=[child.pk]) in page.content.decode()
    page = signed_in_as(team.officer).get(reverse("notice", args=[child.pk]))
    assert reverse("notice", args=[claimed.pk]) in page.content.decode()


def test_the_mail_stands_as_it_would_read_with_its_link_and_no_other(team: Team) -> None:
    start_course(team, make_case(team))
    notice = Notice.objects.filter(course__isnull=False, kind="day-of").first()
    assert notice is not None
    said = life(team.liaison, notice)
    assert "This is due today." in said and notice.path in said
    assert "Planned for the date it is about." in said


def test_both_clocks_are_shown_where_the_readers_differ(team: Team) -> None:
    claimed = taken(team)
    Notice.objects.filter(pk=claimed.pk).update(zone="Asia/Kolkata")
    assert "the reader's clocks, Asia/Kolkata" in life(team.officer, claimed).replace("&#x27;", "'")


def test_every_event_of_any_kind_has_words(team: Team) -> None:
    claimed = taken(team)
    states = ("", *State.values, "reported", "gathered")
    NoticeEvent.objects.bulk_create(
        NoticeEvent(notice=claimed, at=real_now(), old=old if old in State.values else "", new=new or "sent")
        for old in states
        for new in states
    )
    assert signed_in_as(team.officer).get(reverse("notice", args=[claimed.pk])).status_code == 200


@pytest.mark.parametrize("part", ["R7", "r7", "LIAISON@example", "message-id"])
def test_a_notice_is_found_by_reference_address_or_message_id(team: Team, part: str) -> None:
    now = real_now()
    notice = make_notice(team.site, now, now, reference="R77", email="liaison@example.org", state=State.SENT)
    other = make_notice(team.other_site, now, now, reference="R78", email="liaison@example.org")
    asked = notice.message_id[3:30] if part == "message-id" else part
    page = signed_in_as(team.officer).get(reverse("notices"), {"q": asked}).content.decode()
    assert reverse("notice", args=[notice.pk]) in page and "1 notice found." in page
    assert reverse("notice", args=[other.pk]) not in page


@pytest.mark.parametrize("asked", ["nowhere", "%", "\0", "'; --", "x" * 5000])
def test_a_search_without_a_find_says_what_to_do(team: Team, asked: str) -> None:
    page = signed_in_as(team.officer).get(reverse("notices"), {"q": asked})
    assert page.status_code == 200 and "check the spelling" in text_of(page)


def refused(team: Team) -> Notice:
    claimed = taken(team)
    notice_fail(notice=claimed, why="550 no such mailbox", now=real_now())
    return claimed


def test_a_refused_notice_is_sent_again_to_the_corrected_address_with_a_reason(team: Team) -> None:
    notice = refused(team)
    User.objects.filter(pk=team.liaison.pk).update(email="right@example.org")
    client = signed_in_as(team.officer)
    assert "Send it again" in text_of(client.get(reverse("notice", args=[notice.pk])))
    where = reverse("notice-again", args=[notice.pk])
    assert client.post(where, {"reason": ""}).status_code == 400
    assert client.post(where, {"reason": "a letter was missing"}).status_code == 302
    notice.refresh_from_db()
    assert (notice.state, notice.email, notice.settled_at) == (State.WAITING, "right@example.org", None)
    entry = AuditEntry.objects.get(action="notice.sent-again")
    assert entry.detail["reason"] == "a letter was missing" and entry.detail["new"] == "right@example.org"
    assert claim_next(real_now() + LEASE) is not None
    assert client.post(where, {"reason": "twice"}).status_code == 409


def test_a_second_refusal_is_told_again(team: Team) -> None:
    notice = refused(team)
    notice_send_again(actor=team.officer, notice=notice, reason="tried", now=real_now())
    Notice.objects.exclude(pk=notice.pk).delete()
    again = claim_next(real_now() + LEASE)
    assert again is not None and again.pk == notice.pk
    notice_fail(notice=again, why="550 still no", now=real_now())
    assert Notice.objects.filter(key__startswith=f"undelivered-{notice.pk}:").count() == 1
    notice_send_again(actor=team.officer, notice=again, reason="tried", now=real_now())
    third = claim_next(real_now() + 2 * LEASE)
    while third is not None and third.pk != notice.pk:
        third = claim_next(real_now() + 2 * LEASE)
    assert third is not None
    notice_fail(notice=third, why="550 still no", now=real_now())
    assert Notice.objects.filter(key__startswith=f"undelivered-{notice.pk}:").count() == 2


def test_a_refused_mail_for_several_is_sent_again_with_what_is_needed_still(team: Team) -> None:
    now = real_now()
    digest = make_notice(team.site, now, now, kind="digest", gathers=True, state=State.FAILED, path="/")
    values: dict[str, object] = {"state": State.FAILED, "digest": digest}
    first, second = (make_due_today(team.site, now, **values) for _row in range(2))  # type: ignore[arg-type]
    late = make_notice(team.site, now, now, kind="dates-soon", **values)
    notice_send_again(actor=team.officer, notice=digest, reason="the mailbox was full", now=now)
    send_due(clock=lambda: now)
    assert [mail.text.count("/seen/") for mail in MailboxMessage.objects.all()] == [2]
    states = {row.pk: Notice.objects.get(pk=row.pk).state for row in (digest, first, second, late)}
    assert states == {
        digest.pk: State.SENT,
        first.pk: State.SENT,
        second.pk: State.SENT,
        late.pk: State.FAILED,
    }
    Notice.objects.filter(pk__in=[digest.pk, late.pk]).update(state=State.FAILED)
    with pytest.raises(Conflict, match="Nobody needs"):
        notice_send_again(actor=team.officer, notice=digest, reason="again", now=now)


def test_what_nobody_needs_any_more_is_not_sent_again(team: Team) -> None:
    course = start_course(team, make_case(team))
    Notice.objects.filter(course=course, kind="day-of").update(state=State.FAILED)
    notice = Notice.objects.filter(course=course, kind="day-of", user=team.liaison)[0]
    User.objects.filter(pk=team.liaison.pk).update(email="right@example.org")
    with pytest.raises(Conflict, match="corrected address"):
        notice_send_again(actor=team.officer, notice=notice, reason="again", now=real_now())
    with pytest.raises(Invalid):
        notice_send_again(actor=team.officer, notice=notice, reason=" ", now=real_now())


def test_the_word_of_a_reader_and_a_mail_with_others_are_told_in_sentences() -> None:
    for old, new in (
        ("sent", NoticeEvent.SEEN),
        ("waiting", "gathered"),
        ("gathered", "sent"),
        ("gathered", "waiting"),
        ("gathered", "failed"),
    ):
        assert "→" not in event_words(old, new)
