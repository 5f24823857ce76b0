"""The mail server of the outbox's tests."""

from tests.safety.outbox.conftest import server

__all__ = ["server"]
