"""The private link of an observation: made, renewed and ended by the liaison; it records that day's check and nothing else."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_variables

from safety.errors import Conflict, TooMany
from safety.models import AnimalCheck, AnimalLink, Observation
from safety.rules.animal.observation import link_open
from safety.selectors.animal.observation import live_links, state_of
from safety.services.animal.observation import check_record, lock_observation
from safety.services.notices.private_links import live_link, new_code
from staff.ground.transactions import retried
from staff.models import User
from staff.services.audit import audit_write
from staff.services.site.guesses import Limit, guess_key, guess_take, seconds_left

# More words of one animal in a day than anybody needs; common practice, no source.
WORDS_A_DAY = Limit(tries=20, window=timedelta(days=1))


@dataclass(frozen=True)
class MadeAnimalLink:
    """A link with its code, which nobody can read again; `renewed` says that one before it has ended."""

    link: AnimalLink
    code: str = field(repr=False)
    renewed: bool = False

    @property
    def address(self) -> str:
        """The code stands in the path, for the page must work on a simple phone without script: keep the web
        server's logs as you keep passwords."""
        return f"{settings.PUBLIC_URL}/animal/{self.code}/"


@retried
@sensitive_variables()
def animal_link_make(*, actor: User, observation: Observation, now: datetime) -> MadeAnimalLink:
    """A new link; the one before it ends in the same transaction. Refused where it could take no word any more."""
    code = new_code()
    with transaction.atomic():
        locked = lock_observation(observation)
        today = locked.incident.site.local_date(now)
        if not link_open(locked.term, state_of(locked, today), today):
            raise Conflict(_("The observation is over: there is nothing to check."), code="observation-ended")
        ended = locked.links.filter(ended_at__isnull=True).update(ended_at=now)
        link = locked.links.create(
            selector=code.selector, secret_hash=code.digest, made_at=now, made_by=actor
        )
        _audit(actor, locked, "animal-link.renewed" if ended else "animal-link.made", now)
    return MadeAnimalLink(link, code.text, renewed=bool(ended))


def animal_link_end(*, actor: User, observation: Observation, now: datetime) -> None:
    """End the link, for instance because the paper was lost. Ending it twice changes nothing."""
    with transaction.atomic():
        if observation.links.filter(ended_at__isnull=True).update(ended_at=now):
            _audit(actor, observation, "animal-link.ended", now)


@sensitive_variables()
def animal_link_opened(*, code: str, now: datetime) -> AnimalLink | None:
    """The link that `code` opens today; None for any other, whatever the cause."""
    link = live_link(live_links(), code, kind="animal-link", now=now)
    if link is None:
        return None
    observation = link.observation
    today = observation.incident.site.local_date(now)
    return link if link_open(observation.term, state_of(observation, today), today) else None


def animal_link_check(*, link: AnimalLink, seen: str, now: datetime) -> AnimalCheck:
    """Record today's check in the name of whoever holds the link. Raises `TooMany` after twenty in a day."""
    key = guess_key("animal-words", str(link.pk))
    if not guess_take(key=key, now=now, limit=WORDS_A_DAY):
        raise TooMany(
            _("Too many answers came by this link today. If something changed, ring the team now."),
            retry_after=seconds_left(key=key, now=now, limit=WORDS_A_DAY),
        )
    observation = link.observation
    check = check_record(
        observation=observation, day=observation.incident.site.local_date(now), seen=seen, link=link, now=now
    )
    AnimalLink.objects.filter(pk=link.pk).update(last_used_at=now)
    return check


def _audit(actor: User, observation: Observation, action: str, now: datetime) -> None:
    incident = observation.incident
    audit_write(actor=actor, action=action, now=now, person=incident.person, target=incident.reference)
