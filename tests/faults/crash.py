"""A sender that dies by its own hand at a named point: `python -m tests.faults.crash POINT`.

after-claim: the claim is committed, nothing was said to the server. before-dot: the whole text is at the server, the
final dot isn't. after-dot: the server has taken the mail, the row doesn't say so yet. gathered: notices were put into
one mail that nobody has claimed; gathered-POINT: that mail was claimed, and its sender dies at POINT.
"""

from __future__ import annotations

import os
import signal
import sys

import django


def die() -> bool:
    os.kill(os.getpid(), signal.SIGKILL)
    return False


def main(point: str) -> None:
    django.setup()
    from django.utils import timezone  # noqa: PLC0415  (Django is set up a line above)

    from safety.outbox.claims import claim_next  # noqa: PLC0415
    from safety.services import sending  # noqa: PLC0415

    notice = claim_next(timezone.now())
    if notice is None:
        raise SystemExit("nothing was due")
    if point.startswith("gathered"):
        if not sending.gathered(notice, timezone.now()):
            raise SystemExit("nothing was gathered")
        if point == "gathered":
            die()
        notice = claim_next(timezone.now())
        assert notice is not None and notice.kind == "digest"
        point = point.removeprefix("gathered-")
    if point == "after-claim":
        die()
    if point == "before-dot":
        sending.still_ours = lambda *_: die()
    if point == "after-dot":
        sending.settle_sent = lambda *_, **__: die()  # type: ignore[assignment]
    sending.send_one(notice, clock=timezone.now)
    raise SystemExit(f"{point} was not reached")


if __name__ == "__main__":
    main(sys.argv[1])
