"""A service that had to give way begins anew; when that doesn't help, the refusal is a sentence.

The codes are those of PostgreSQL's appendix A and of sqlite.org/rescode.html.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import IntegrityError, OperationalError, connection, transaction

from staff.ground import transactions
from staff.ground.transactions import Crossed, gave_way, retried
from staff.models import Site
from tests.factories import make_site


def lost(**cause: Any) -> OperationalError:
    """An error as Django raises it: the driver's own one is its cause."""
    error = OperationalError("the database's words")
    error.__cause__ = type("DriverError", (Exception,), cause)()
    return error


@pytest.fixture(autouse=True)
def no_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transactions, "PAUSES", (0.0, 0.0, 0.0))


@pytest.fixture
def outermost(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transactions, "connection", SimpleNamespace(in_atomic_block=False))


@pytest.mark.parametrize(
    ("cause", "expected"),
    [
        ({"sqlstate": "40P01"}, True),
        ({"sqlstate": "40001"}, True),
        ({"sqlstate": "55P03"}, True),
        ({"sqlstate": "57P01"}, False),  # administrator shut the connection: it may have committed
        ({"sqlstate": None}, False),
        ({"sqlite_errorcode": sqlite3.SQLITE_BUSY}, True),
        ({"sqlite_errorcode": sqlite3.SQLITE_BUSY_SNAPSHOT}, True),
        ({"sqlite_errorcode": sqlite3.SQLITE_LOCKED}, True),
        ({"sqlite_errorcode": sqlite3.SQLITE_FULL}, False),
        ({}, False),
    ],
)
def test_only_a_transaction_undone_for_another_is_tried_again(cause: dict[str, Any], expected: bool) -> None:
    assert gave_way(lost(**cause)) is expected


def test_a_service_that_gave_way_twice_succeeds_the_third_time(outermost: None) -> None:
    failures = [lost(sqlstate="40P01"), Crossed()]

    @retried
    def service(*, word: str) -> str:
        if failures:
            raise failures.pop()
        return word

    assert service(word="done") == "done"


@pytest.mark.parametrize("failure", [lost(sqlstate="40P01"), Crossed()])
def test_one_that_always_gives_way_ends_as_a_refusal_with_a_sentence(
    outermost: None, failure: Exception
) -> None:
    tries = []

    @retried
    def service() -> None:
        tries.append(1)
        raise failure

    with pytest.raises(Crossed, match="Nothing was saved; try again") as refused:
        service()
    assert len(tries) == 4 and refused.value.code == "changes-crossed"


@pytest.mark.parametrize("failure", [lost(sqlstate="57P01"), IntegrityError("unique"), ValueError("x")])
def test_any_other_failure_is_raised_at_once(outermost: None, failure: Exception) -> None:
    tries = []

    @retried
    def service() -> None:
        tries.append(1)
        raise failure

    with pytest.raises(type(failure)):
        service()
    assert len(tries) == 1


@pytest.mark.django_db
def test_inside_a_callers_transaction_nothing_is_repeated() -> None:
    tries = []

    @retried
    def service() -> None:
        tries.append(1)
        raise lost(sqlstate="40P01")

    with pytest.raises(OperationalError), transaction.atomic():
        service()
    assert len(tries) == 1


@pytest.mark.skipif(
    connection.vendor != "postgresql", reason="SQLite lets one writer in at a time: no deadlocks"
)
def test_two_that_lock_each_other_out_both_finish(real_transactions: None) -> None:
    pair = [make_site("one").pk, make_site("two").pk]
    barrier, failures = threading.Barrier(2), list[BaseException]()
    first_try = threading.local()

    @retried
    def rename(order: list[int], name: str) -> None:
        with transaction.atomic():
            Site.objects.select_for_update().get(pk=order[0])
            if not getattr(first_try, "over", False):
                first_try.over = True
                barrier.wait(timeout=20)
            Site.objects.filter(pk=order[1]).update(name=name)

    def side(order: list[int], name: str) -> None:
        try:
            rename(order, name)
        except BaseException as error:  # noqa: BLE001  (handed to the test's own thread)
            failures.append(error)
        finally:
            connection.close()

    threads = [
        threading.Thread(target=side, args=args)
        for args in ((pair, "b was here"), (pair[::-1], "a was here"))
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failures
    assert {site.name for site in Site.objects.all()} == {"a was here", "b was here"}


@pytest.mark.skipif(connection.vendor != "sqlite", reason="about SQLite's one lock")
def test_a_database_that_stays_locked_ends_as_a_refusal(
    real_transactions: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 50")

    @retried
    def service() -> None:
        with transaction.atomic():
            make_site("late")

    started = time.monotonic()
    try:
        with pytest.raises(Crossed):
            service()
    finally:
        other.close()
        connection.close()
    assert time.monotonic() - started < 5
    service()
    assert Site.objects.get().code == "late"
