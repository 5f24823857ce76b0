"""Voiding a departure that was entered in error: the crew hasn't left."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.errors import NotAllowed
from safety.models import Departure
from safety.notices.outing.left_without import DEPARTURES
from safety.selectors.crew_day.outing_day import (
    leads_crew,
)
from safety.services.notices.notices import notices_bring
from staff.models import Outing, User
from staff.selectors.access import OFFICER, has_role
from staff.services.outing.crews import crew_left_set
from staff.services.voiding import Voiding, VoidRule, void


def _lock_departure(act: Voiding[Departure]) -> None:
    """The crew lead voids on the day, a safety officer of the site on any."""
    crew, outing = act.row.crew, act.row.crew.outing
    on_the_day = outing.site.local_date(act.now) == act.row.date
    if not has_role(act.actor, outing.site, OFFICER) and not (leads_crew(act.actor, crew) and on_the_day):
        raise NotAllowed(_("The crew's lead voids this on the day itself, a safety officer also later."))
    Outing.objects.select_for_update(no_key=True).get(pk=outing.pk)


def _crew_stays(act: Voiding[Departure], _locked: None) -> None:
    crew_left_set(crew=act.row.crew, left_at=None)
    notices_bring(origin=DEPARTURES, subject=act.row, now=act.now)


DEPARTURE_VOID = VoidRule(
    model=Departure,
    action="departure.voided",
    twice=gettext_lazy("This crew's leaving is voided already."),
    lock=_lock_departure,
    about=lambda row: {"site": row.crew.outing.site, "target": f"crew:{row.crew_id}"},
    follow=_crew_stays,
)


def departure_void(*, actor: User, departure: Departure, reason: str, now: datetime) -> None:
    """Take back a departure recorded in error. The roster stays as it is; the officers' notice goes if it hasn't left.
    From then on the outing may be moved and its places filled again. Refuses as `void` does, and whom it isn't up to.
    """
    void(actor=actor, row=departure, reason=reason, now=now, rule=DEPARTURE_VOID)
