"""Two officers note who came to the same session at the same moment."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime
from threading import Barrier

import pytest
from django.db import connection

from staff.ground.errors import Conflict
from staff.models import AuditEntry, Dose, Session, SessionPlace
from staff.services.campaign.session_notes import Note
from staff.services.campaign.sessions import session_record
from tests.factories import Team, make_team
from tests.staff.planning.scenes import keep_proposal, newcomers, notes_of, skin_campaign

# As many as one vial serves: they all come to the first session.
PEOPLE = 10
ROUNDS = 4
pytestmark = pytest.mark.usefixtures("real_transactions")


def scene(now: datetime) -> tuple[Team, Session]:
    team = make_team(now)
    campaign = skin_campaign(team, now, days_ahead=30, people=newcomers(team, now, PEOPLE))
    return team, keep_proposal(team, campaign, now)[0]


def both(team: Team, session: Session, lists: Sequence[Sequence[Note]], now: datetime) -> list[int | str]:
    """What each officer is answered: doses that were added, or the code of the refusal."""
    together = Barrier(2)

    def send(notes: Sequence[Note]) -> Callable[[], int | str]:
        def officer() -> int | str:
            try:
                together.wait(timeout=30)
                return session_record(actor=team.officer, session=session, notes=notes, now=now).doses
            except Conflict as refused:
                return refused.code
            finally:
                connection.close()

        return officer

    with ThreadPoolExecutor(2) as pool:
        return [future.result(timeout=120) for future in [pool.submit(send(notes)) for notes in lists]]


def test_one_list_sent_by_two_at_once_is_recorded_once(now: datetime) -> None:
    team, session = scene(now)
    came_too = Note("new0", team.person.pk, "given", batch="B1", planned=False)
    notes = [*notes_of(session, "given", batch="B1"), came_too]
    for part in range(ROUNDS):
        share = notes[part::ROUNDS]
        answers = both(team, session, [share, share[::-1]], now)
        assert sorted(answers, key=str) == sorted([0, len(share)], key=str)
    assert Dose.objects.count() == SessionPlace.objects.filter(outcome="given").count() == PEOPLE + 1
    assert AuditEntry.objects.filter(action="session.recorded").count() == ROUNDS


def test_of_two_lists_that_contradict_each_other_one_is_kept_whole(now: datetime) -> None:
    team, session = scene(now)
    given = notes_of(session, "given")
    other = [replace(given[0], outcome="given", batch="B2"), *given[1:]]
    answers = both(team, session, [given, other], now)
    assert sorted(answers, key=str) == [PEOPLE, "session-conflict"]
    assert Dose.objects.count() == PEOPLE
