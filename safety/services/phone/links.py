"""Personal links: made, renewed, and compared under a counter. A link's secret is told once and never logged.

An ended link sends still, and the case says so: nobody's report is lost to a lost card.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from django.conf import settings
from django.db import transaction
from django.utils.crypto import constant_time_compare
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_variables

from safety.models import PhoneLink
from safety.services.case.references import ALPHABET, random_code
from staff.ground.transactions import retried
from staff.models import Person, User
from staff.services.audit import audit_write
from staff.services.record.clearance import lock_person
from staff.services.site.guesses import guess_forgive, guess_key, guess_take, seconds_left
from staff.words import too_many_tries

SELECTOR_LENGTH = 8
# 26 characters of 31 are 128 bits: nobody guesses them, counter or not.
SECRET_LENGTH = 26
_CODE = re.compile(f"([{ALPHABET}]{{{SELECTOR_LENGTH}}})([{ALPHABET}]{{{SECRET_LENGTH}}})")


class LinkState(StrEnum):
    LIVE = "live"
    ENDED = "ended"
    UNKNOWN = "unknown"
    LOCKED = "locked"


@dataclass(frozen=True)
class MadeLink:
    """A link with its code, which nobody can read again; `renewed` says that one before it has ended."""

    link: PhoneLink
    code: str = field(repr=False)
    renewed: bool = False

    @property
    def shown_code(self) -> str:
        """In fours, for reading and typing."""
        return "-".join(self.code[start : start + 4] for start in range(0, len(self.code), 4))

    @property
    def address(self) -> str:
        """The code stands in the fragment, which a browser sends to nobody."""
        return f"{settings.PUBLIC_URL}/phone/#{self.code}"


@dataclass(frozen=True)
class LinkCheck:
    """`link` is the row the code names; only LIVE and ENDED say that the secret was right."""

    state: LinkState
    link: PhoneLink | None = None
    wait_seconds: int = 0

    @property
    def proven(self) -> bool:
        return self.state in (LinkState.LIVE, LinkState.ENDED)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


@retried
@sensitive_variables()
def link_make(*, actor: User, person: Person, now: datetime) -> MadeLink:
    """A new link for `person`; the one before it ends in the same transaction. The code is told here and never again."""
    secret = random_code(SECRET_LENGTH)
    with transaction.atomic():
        locked = lock_person(person.pk)
        ended = PhoneLink.objects.filter(person=locked, ended_at__isnull=True).update(ended_at=now)
        link = PhoneLink.objects.create(
            person=locked,
            selector=random_code(SELECTOR_LENGTH),
            secret_hash=_digest(secret),
            made_at=now,
            made_by=actor,
        )
        audit_write(
            actor=actor,
            action="phone-link.renewed" if ended else "phone-link.made",
            now=now,
            person=locked,
            target=f"phone-link:{link.pk}",
        )
    return MadeLink(link, link.selector + secret, renewed=bool(ended))


@sensitive_variables()
def link_check(*, code: str, now: datetime) -> LinkCheck:
    """Which link a code is, as typed or as it came in a message. A try is taken before the secret is compared.

    Spaces, hyphens and small letters don't matter. An ended link is told apart only to who holds its secret.
    """
    parts = _CODE.fullmatch(re.sub(r"[\s-]", "", code).upper()[:200])
    link = (
        PhoneLink.objects.select_related("person__site__rules", "person__user")
        .filter(selector=parts[1] if parts else "")
        .first()
    )
    if parts is None or link is None:
        return LinkCheck(LinkState.UNKNOWN)
    key = guess_key("link", link.selector)
    if not guess_take(key=key, now=now):
        return LinkCheck(LinkState.LOCKED, link, seconds_left(key=key, now=now))
    if not constant_time_compare(_digest(parts[2]), link.secret_hash):
        return LinkCheck(LinkState.UNKNOWN, link)
    guess_forgive(key=key)
    return LinkCheck(LinkState.LIVE if link.ended_at is None else LinkState.ENDED, link)


def card_refusal(check: LinkCheck) -> str:
    """What to tell who gave a code that opens nothing."""
    if check.state is LinkState.LOCKED:
        return too_many_tries(check.wait_seconds)
    return _("This card code isn't valid, or was replaced by a newer one: ask your safety officer.")


def link_used(*, link: PhoneLink, now: datetime) -> None:
    PhoneLink.objects.filter(pk=link.pk).update(last_used_at=now)
