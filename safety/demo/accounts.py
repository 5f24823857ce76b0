"""The demo's accounts. Outside the demo none of them exists."""

from __future__ import annotations

from collections.abc import Sequence

PASSWORD = "three-fifteen-demo"
ACCOUNTS: Sequence[tuple[str, str, str]] = (
    ("officer", PASSWORD, "safety officer of Lantern Valley and Quennamoor Heights"),
    ("deputy", PASSWORD, "second safety officer of Lantern Valley: what two people must do"),
    ("lead", PASSWORD, "crew lead, Lantern Valley"),
    ("member", PASSWORD, "team member, Lantern Valley"),
    ("liaison", PASSWORD, "clinic liaison, Lantern Valley"),
    ("stranger", PASSWORD, "safety officer of another site, Tessamarsh Bay"),
    ("admin", PASSWORD, "administrator: sites and accounts, no health record"),
)
