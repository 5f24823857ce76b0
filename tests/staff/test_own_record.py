"""Nobody clears themself: an officer or liaison who is on the team too has it recorded by somebody else."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

import pytest

from staff.ground.errors import NotAllowed
from staff.models import Briefing, Dose, Evidence, Hold, Person, User
from staff.selectors.record.readiness import readiness_of
from staff.services.campaign.session_notes import Note
from staff.services.campaign.sessions import session_record
from staff.services.record.briefings import briefing_record, briefings_record
from staff.services.record.certificates import certificate_add, certificate_verify
from staff.services.record.holds import hold_place, hold_release
from staff.services.record.letters import immunocompromised_set, letter_add, letter_void
from staff.services.record.people import person_update
from staff.services.record.records import dose_record, dose_void
from staff.services.record.titres import titre_record, titre_void
from tests.documents import picture
from tests.factories import Team, also_member, give_doses, make_person, make_user
from tests.staff.imports.lists import bring_in, check, codes, lines
from tests.staff.planning.scenes import keep_proposal, newcomers, notes_of, skin_campaign

pytestmark = pytest.mark.django_db

Write = Callable[[User], object]


@pytest.fixture
def own(team: Team) -> Person:
    """The officer is on the team as well; the liaison and a second officer are colleagues."""
    return also_member(team, team.officer)


def needs_somebody_else(write: Write, actor: User, field: str = "person") -> None:
    with pytest.raises(NotAllowed) as refused:
        write(actor)
    assert refused.value.code == "own-record"
    assert list(refused.value.fields) == [field]
    assert "Ask another officer or liaison of the site." in refused.value.message


def doses(team: Team, now: datetime) -> Write:
    return partial(_dose, team, now)


def _dose(team: Team, now: datetime, actor: User, **said: Any) -> Dose:
    return dose_record(actor=actor, person=team.person, given_on=team.site.local_date(now), now=now, **said)


def titres(team: Team, now: datetime) -> Write:
    value, today = Decimal("0.9"), team.site.local_date(now)
    return lambda actor: titre_record(
        actor=actor, person=team.person, taken_on=today, iu_per_ml=value, now=now
    )


def low_titre_voided(team: Team, now: datetime) -> Write:
    """Voiding a low one gives dates back."""
    today = team.site.local_date(now)
    titre = titre_record(
        actor=team.liaison, person=team.person, taken_on=today, iu_per_ml=Decimal("0.1"), now=now
    )
    return lambda actor: titre_void(actor=actor, titre=titre, reason="of somebody else", now=now)


def briefings(team: Team, now: datetime) -> Write:
    today = team.site.local_date(now)
    return lambda actor: briefing_record(actor=actor, person=team.person, held_on=today, now=now)


def holds_released(team: Team, now: datetime) -> Write:
    today = team.site.local_date(now)
    hold = hold_place(actor=team.officer, person=team.person, starts_on=today, reason="fever", now=now)
    return lambda actor: hold_release(actor=actor, hold=hold, last_day=today, note="well", now=now)


def letters(team: Team, now: datetime) -> Write:
    today = team.site.local_date(now)
    return lambda actor: letter_add(
        actor=actor,
        person=team.person,
        clinician="Test Clinician",
        signed_on=today,
        valid_until=today,
        content=picture("letter"),
        now=now,
    )


def documents_checked(team: Team, now: datetime) -> Write:
    row = certificate_add(
        actor=make_user("sender"), person=team.person, kind="certificate", content=picture(), now=now
    )
    return lambda actor: certificate_verify(actor=actor, certificate=row, doses=[], now=now)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (doses, "evidence"),
        (titres, "person"),
        (low_titre_voided, "person"),
        (briefings, "person"),
        (holds_released, "person"),
        (letters, "person"),
        (documents_checked, "person"),
    ],
)
def test_what_clears_is_recorded_by_a_colleague_alone(
    make: Callable[[Team, datetime], Write], field: str, own: Person, team: Team, now: datetime
) -> None:
    write = make(team, now)
    needs_somebody_else(write, team.officer, field)
    write(team.liaison)


def test_the_liaison_is_no_exception(team: Team, now: datetime) -> None:
    also_member(team, team.liaison)
    needs_somebody_else(doses(team, now), team.liaison, "evidence")
    doses(team, now)(team.officer)
    assert Dose.objects.get().recorded_by == team.officer


def test_every_evidence_but_none_is_somebody_elses(own: Person, team: Team, now: datetime) -> None:
    for evidence in set(Evidence.values) - {Evidence.NONE}:
        needs_somebody_else(partial(_dose, team, now, evidence=evidence), team.officer, "evidence")
    assert not Dose.objects.exists()


def test_own_doses_without_a_document_clear_once_a_colleague_has_checked_one(
    own: Person, team: Team, now: datetime
) -> None:
    today = team.site.local_date(now)
    given = [
        dose_record(
            actor=team.officer, person=own, given_on=today - timedelta(days=ago), evidence="none", now=now
        )
        for ago in (30, 23, 9)
    ]
    row = certificate_add(actor=team.officer, person=own, kind="certificate", content=picture(), now=now)
    proof = {"certificate": row, "doses": given, "now": now}
    assert not clear(own, today)
    with pytest.raises(NotAllowed):
        certificate_verify(actor=team.officer, **proof)  # type: ignore[arg-type]
    certificate_verify(actor=team.liaison, **proof)  # type: ignore[arg-type]
    assert clear(own, today)


def clear(person: Person, day: date) -> bool:
    return readiness_of(Person.objects.select_related("site__rules").get(pk=person.pk), day).clear


def test_the_mark_of_the_immunocompromised_is_set_but_not_taken_away(
    own: Person, team: Team, now: datetime
) -> None:
    def mark(actor: User, marked: bool = False) -> Person:
        return immunocompromised_set(
            actor=actor, person=own, immunocompromised=marked, reason="clinic said so", now=now
        )

    mark(team.officer, True)
    needs_somebody_else(mark, team.officer, "immunocompromised")
    assert not mark(team.liaison).immunocompromised


JUNE, JULY = date(2026, 6, 1), date(2026, 7, 31)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"active_from": JUNE - timedelta(days=1)}, "active_from"),
        ({"active_from": None}, "active_from"),
        ({"active_until": JULY + timedelta(days=1)}, "active_until"),
        ({"active_until": None}, "active_until"),
    ],
)
def test_nobody_gives_themself_more_days_with_the_team(
    changes: dict[str, Any], field: str, own: Person, team: Team, now: datetime
) -> None:
    person_update(actor=team.officer, person=own, now=now, active_from=JUNE, active_until=JULY)
    needs_somebody_else(partial(_update, own, now, changes), team.officer, field)
    _update(own, now, changes, team.liaison)
    own.refresh_from_db()
    assert {name: getattr(own, name) for name in changes} == changes


def _update(person: Person, now: datetime, changes: dict[str, Any], actor: User) -> Person:
    return person_update(actor=actor, person=person, now=now, **changes)


def test_what_only_takes_dates_away_stays_open_to_oneself(own: Person, team: Team, now: datetime) -> None:
    today = team.site.local_date(now)
    dose = give_doses(own, team.liaison, now, 9)[0]
    letter = letters(team, now)(team.liaison)
    dose_void(actor=team.officer, dose=dose, reason="of somebody else", now=now)
    letter_void(actor=team.officer, letter=letter, reason="taken back", now=now)  # type: ignore[arg-type]
    hold_place(actor=team.officer, person=own, starts_on=today, reason="fever", now=now)
    for fewer in (JULY, JUNE):
        person_update(actor=team.officer, person=own, now=now, active_until=fewer, phone="000 7")
    assert Hold.objects.count() == 1 and Person.objects.get(pk=own.pk).active_until == JUNE


def test_a_hold_ended_by_a_report_from_the_phone_has_no_actor_to_refuse(
    own: Person, team: Team, now: datetime
) -> None:
    holds_released(team, now)(None)  # type: ignore[arg-type]
    assert Hold.objects.get().released_at == now


def test_a_briefing_of_many_leaves_nobody_in_when_the_officer_is_among_them(
    own: Person, team: Team, now: datetime
) -> None:
    mate = make_person(team.site, team.officer, now, number="8")
    said = {"site": team.site, "held_on": team.site.local_date(now), "now": now}
    both = [own.pk, mate.pk]
    needs_somebody_else(
        lambda actor: briefings_record(actor=actor, people=both, **said), team.officer, "people"
    )  # type: ignore[arg-type]
    assert not Briefing.objects.exists()
    second = make_user("second", team.site, "officer")
    assert briefings_record(actor=second, people=both, **said).recorded == 2  # type: ignore[arg-type]
    again = briefings_record(actor=team.officer, people=both, **said)  # type: ignore[arg-type]
    assert (again.recorded, again.standing) == (0, 2), "sent again it changes nothing"


def test_who_came_names_the_own_row_and_keeps_nothing(own: Person, team: Team, now: datetime) -> None:
    people = [*newcomers(team, now, 2), own]
    session = keep_proposal(team, skin_campaign(team, now, days_ahead=30, people=people), now)[0]
    notes = notes_of(session, "given")
    mine = next(note for note in notes if note.person_id == own.pk)
    with pytest.raises(NotAllowed) as refused:
        session_record(actor=team.officer, session=session, notes=notes, now=now)
    assert refused.value.code == "own-record"
    assert list(refused.value.fields) == [f"{mine.row}-outcome"]
    assert "Test Member (7): Somebody else" in refused.value.message and not Dose.objects.exists()
    others = [note for note in notes if note is not mine]
    assert session_record(actor=team.officer, session=session, notes=others, now=now).doses == 2
    assert session_record(actor=team.liaison, session=session, notes=[mine], now=now).doses == 1


def test_who_came_unplanned_is_named_at_the_number(own: Person, team: Team, now: datetime) -> None:
    session = keep_proposal(
        team, skin_campaign(team, now, days_ahead=30, people=newcomers(team, now, 1)), now
    )[0]
    note = Note("new0", own.pk, "given", planned=False)
    needs_somebody_else(
        lambda actor: session_record(actor=actor, session=session, notes=[note], now=now),
        team.officer,
        "new0-number",
    )
    assert session_record(actor=team.liaison, session=session, notes=[note], now=now).doses == 1


HEADER = "Number,Name,Phone,Dose 1,Briefing"


@pytest.mark.parametrize(
    ("row", "found"),
    [
        ("7,Test Member,,2026-01-05,", [("own-record", 3, 0)]),
        ("7,Test Member,,,2026-01-05", [("own-record", 3, 0)]),
        ("7,Test Member,000 7,,", []),
    ],
)
def test_a_list_names_the_row_that_would_clear_who_imports_it(
    row: str, found: list[object], own: Person, team: Team, now: datetime
) -> None:
    content = lines(HEADER, "20,Test Newcomer,,2026-01-05,", row)
    assert codes(check(team.site, now, content).problems) == found


def test_the_same_list_comes_in_by_another_officer_or_without_documents(
    own: Person, team: Team, now: datetime
) -> None:
    content = lines(HEADER, "7,Test Member,,2026-01-05,")
    assert bring_in(team.officer, team.site, now, content, evidence="none")["doses_added"] == 1
    second = make_user("second", team.site, "officer")
    again = lines(HEADER, "7,Test Member,,2026-01-12,2026-01-12")
    assert bring_in(second, team.site, now, again)["doses_added"] == 1
