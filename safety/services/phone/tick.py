"""What every tick does for the phones: place what waits, keep a fresh seal key, forget old tries."""

from __future__ import annotations

import logging
from datetime import datetime

from safety.services.phone.keys import seal_keys_rotate
from safety.services.phone.receive import messages_sweep
from staff.services.site.guesses import guesses_sweep

logger = logging.getLogger(__name__)


def phones_catch_up(*, now: datetime) -> None:
    """Each part on its own: one that fails is logged, tried again at the next tick and stops nothing else."""
    for part in (messages_sweep, seal_keys_rotate, guesses_sweep):
        try:
            part(now=now)
        except Exception:
            logger.exception("The tick's %s failed", part.__name__)
