"""Nobody clears themself: what could make somebody clearer, somebody else puts on record.

Every service whose write could do that asks here, and the database holds most of it too (staff.guards.people).
Of oneself one may record what can only make one less clear: a voided dose or letter, a hold, the mark of somebody
immunocompromised, fewer days with the team. So may one a dose without a document, and send the document: neither
clears anybody until a second person has checked it.

Rules and approvals, which are the whole site's, stay an officer's even if on the team. Who keeps records and is
immunocompromised needs two colleagues: one sends the letter, one checks it. No page or door sets `Person.user`: only
the administrator's shell links an account, and what was recorded by it before is named by `verify_records`, until
somebody else voids it and records it anew. A phone's link isn't the account: a report that it was somebody else still
moves the hold its own alarm placed.
"""

from __future__ import annotations

from django.utils.translation import gettext as _

from staff.ground.errors import NotAllowed
from staff.models import Person, User

OWN_RECORD = "own-record"


def need_somebody_else(*, actor: User | None, person: Person, field: str = "person") -> None:
    """Raises `NotAllowed`, which names `field`, when `person` is who acts. A phone's report has no actor."""
    if actor is not None and person.user_id == actor.pk:
        words = _(
            "Somebody else must record this for you: nobody clears themself. "
            "Ask another officer or liaison of the site."
        )
        raise NotAllowed(words, code=OWN_RECORD, fields={field: words})
