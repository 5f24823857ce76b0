"""Telephone numbers that ring nobody, whoever dials them and from wherever.

Ofcom keeps 01632 960000 to 960999 free for drama ("Telephone numbers for use in TV and radio drama programmes"); written
in full international form they mean the same everywhere. Read in a copy of its table, not on Ofcom's own page.
"""

from __future__ import annotations


def telephone(last: int) -> str:
    """The number of that range with these last three digits."""
    if not 0 <= last <= 999:
        raise ValueError(f"The range has no number {last}.")
    return f"+44 1632 960 {last:03}"
