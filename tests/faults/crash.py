"""Senders that die by their own hand, each at its point: `python -m tests.faults.crash POINT…`.

For each point, in order, a process of its own claims what is due next and kills itself (SIGKILL) there:

    in-claim            the claim is written and not committed
    after-claim         the claim is committed, nothing else was done
    after-still-true    the notice was asked whether it is still wanted
    after-building      the mail is built
    after-connecting    the mail server has said its greeting
    after-sender        MAIL is answered
    after-recipient     RCPT is answered
    after-data          DATA is said
    within-text         half the text is at the server
    before-dot          the whole text is at the server, the final dot isn't
    after-dot           the dot is at the server, its answer unread
    after-answer        the server has taken the mail, the row doesn't say so yet
    in-settling         the row says so, not committed
    after-settling      all is done

gathered: notices were put into one mail that nobody has claimed; gathered-POINT: that mail is claimed, and its sender
dies at POINT.
"""

from __future__ import annotations

import os
import signal
import smtplib
import sys
import time
from collections.abc import Callable
from typing import Any

import django

# Seconds for the mail server to act on what was said last.
A_MOMENT = 0.3


def die(*_: object, **__: object) -> Any:
    time.sleep(A_MOMENT)
    os.kill(os.getpid(), signal.SIGKILL)


def dying_after(owner: Any, name: str, when: Callable[..., bool] = lambda *_: True) -> None:
    """Let the function do its work and then die, if `when` says so of its arguments."""
    real = getattr(owner, name)

    def last(*args: Any, **options: Any) -> Any:
        done = real(*args, **options)
        return die() if when(*args) else done

    setattr(owner, name, last)


def dying_within_text() -> None:
    real = smtplib.SMTP.send

    def last(server: smtplib.SMTP, said: Any) -> None:
        long = len(said) > 300
        real(server, said[: len(said) // 2] if long else said)
        if long:
            die()

    smtplib.SMTP.send = last  # type: ignore[method-assign, assignment]


def arrange(point: str) -> None:
    """Make this process die at `point` of the sending that follows."""
    from safety.outbox import claims, transport  # noqa: PLC0415  (Django is set up by main)
    from safety.outbox.states import State  # noqa: PLC0415
    from safety.services.notices import sending, wanted  # noqa: PLC0415

    arrangements: dict[str, Callable[[], None]] = {
        "in-claim": lambda: dying_after(claims, "move", lambda _row, new: new == State.CLAIMED),
        "after-claim": lambda: dying_after(sending, "claim_next"),
        "after-still-true": lambda: dying_after(wanted, "still_true"),
        "after-building": lambda: dying_after(sending, "build_mail"),
        "after-connecting": lambda: dying_after(transport, "_connect"),
        "after-sender": lambda: dying_after(smtplib.SMTP, "mail"),
        "after-recipient": lambda: dying_after(smtplib.SMTP, "rcpt"),
        "after-data": lambda: dying_after(smtplib.SMTP, "putcmd", lambda _server, said, *_: said == "data"),
        "within-text": dying_within_text,
        "before-dot": lambda: setattr(sending, "still_ours", die),
        "after-dot": lambda: dying_after(smtplib.SMTP, "send", lambda _server, said: said == b".\r\n"),
        "after-answer": lambda: setattr(sending, "settle_sent", die),
        "in-settling": lambda: dying_after(claims, "move", lambda _row, new: new == State.SENT),
        "after-settling": lambda: dying_after(sending, "settle_sent"),
    }
    arrangements[point]()


def live_until(point: str) -> None:
    from django.utils import timezone  # noqa: PLC0415

    from safety.services.notices.sending import send_due  # noqa: PLC0415

    if point.startswith("gathered"):
        # The first claim puts its notice and the others of the hour into one mail, and sends nothing.
        send_due(clock=timezone.now, at_most=1)
        point = point.removeprefix("gathered").removeprefix("-") or die()
    arrange(point)
    send_due(clock=timezone.now, at_most=1)
    os._exit(1)


def main(points: list[str]) -> None:
    django.setup()
    for point in points:
        child = os.fork()
        if not child:
            live_until(point)
        _, status = os.waitpid(child, 0)
        if os.waitstatus_to_exitcode(status) != -signal.SIGKILL:
            raise SystemExit(f"{point} was not reached")


if __name__ == "__main__":
    main(sys.argv[1:])
