"""The outbox: every notice is one row, history and queue at once."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.models.animal.animal import Observation
from safety.models.case.incident import Incident
from safety.models.clinic.clinic import Clinic
from safety.models.course.course import Course
from safety.models.crew_day.outing_day import Departure
from safety.models.phone.phone import PhoneMessage
from staff.models import AccountChange, Outing, Person, Session, Site, Withdrawal


class Notice(models.Model):
    """One e-mail to one recipient. `key` makes it exist once; `message_id` is fixed when the row is written.

    `due_at` is derived from the local date, hour and zone. Legal moves stand in `safety.outbox.states`.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        CLAIMED = "claimed", _("being sent")
        SENT = "sent", _("sent")
        FAILED = "failed", _("refused for good")
        WITHDRAWN = "withdrawn", _("withdrawn")
        GATHERED = "gathered", _("in a mail with others")

    class Says(models.TextChoices):
        """What it tells its reader about their place on the outing or session it is about."""

        ON = "on"
        OFF = "off"

    key = models.CharField(max_length=160, unique=True)
    kind = models.CharField(_("kind"), max_length=20)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="notices")
    reference = models.CharField(_("reference"), max_length=20)
    path = models.CharField(max_length=200)
    incident = models.ForeignKey(
        Incident, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    course = models.ForeignKey(
        Course, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    withdrawal = models.ForeignKey(
        Withdrawal, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    session = models.ForeignKey(
        Session, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    outing = models.ForeignKey(
        Outing, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    departure = models.ForeignKey(
        Departure, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    observation = models.ForeignKey(
        Observation, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    # The report from a phone that waits for a name.
    held = models.ForeignKey(
        PhoneMessage, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    clinic = models.ForeignKey(
        Clinic, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    account_change = models.ForeignKey(
        AccountChange, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    # The notice that was refused for good, of which this one tells.
    refused = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="told_on"
    )
    # Which one it is, where a day may bring several of a kind about one case; empty: its kind says it.
    matter = models.CharField(max_length=120, blank=True)
    says = models.CharField(max_length=3, choices=Says, blank=True)
    # The date by which its reader knew the outing before.
    known_on = models.DateField(null=True, blank=True)
    # The Monday of the week it stands for.
    week_on = models.DateField(null=True, blank=True)
    # When the session it is about begins, as it says; empty where nobody knows what it said.
    starts_at = models.DateTimeField(null=True, blank=True)
    # A mail for several: its members are the notices that go in it.
    gathers = models.BooleanField(default=False)
    # RFC 5545's SEQUENCE of the calendar entry that travels along.
    sequence = models.PositiveIntegerField(null=True, blank=True)
    step = models.PositiveSmallIntegerField(null=True, blank=True)
    when_on = models.DateField(_("about the date"), null=True, blank=True)
    audience = models.CharField(_("to"), max_length=12)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    person = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="notices"
    )
    email = models.EmailField(_("address"))
    language = models.CharField(max_length=10, default="en")
    send_on = models.DateField(_("send on, local date"))
    send_hour = models.PositiveSmallIntegerField(_("hour"))
    zone = models.CharField(max_length=60)
    due_at = models.DateTimeField(_("due"))
    state = models.CharField(_("state"), max_length=10, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(_("attempts"), default=0)
    next_try_at = models.DateTimeField()
    claim_token = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    message_id = models.CharField(max_length=120, unique=True)
    last_error = models.CharField(_("last error"), max_length=500, blank=True)
    created_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    # The first word of a reader that it was seen; it changes nothing else.
    acknowledged_at = models.DateTimeField(_("seen"), null=True, blank=True)
    # The mail it goes in, with others to the same address at the same hour.
    digest = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="members"
    )
    # The notice nobody answered, of which this one tells the next contact.
    about = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="passed_on"
    )

    class Meta:
        ordering: ClassVar = ["due_at", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~models.Q(state="claimed")
                | models.Q(claim_token__isnull=False, lease_until__isnull=False),
                name="claimed_notice_has_a_lease",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="gathered") | models.Q(digest__isnull=False),
                name="gathered_notice_has_its_mail",
            ),
        ]
        indexes: ClassVar = [
            # A million sent rows cost the scan nothing.
            models.Index(
                fields=["next_try_at"],
                condition=models.Q(state__in=["waiting", "claimed"]),
                name="notice_open",
            ),
            models.Index(
                fields=["course"], condition=models.Q(state="waiting"), name="notice_open_by_course"
            ),
            models.Index(fields=["email", "due_at"], name="notice_by_address"),
            models.Index(fields=["digest"], condition=models.Q(state="gathered"), name="notice_gathered"),
            models.Index(
                fields=["settled_at"],
                condition=models.Q(state="sent", acknowledged_at__isnull=True),
                name="notice_unanswered",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reference} {self.kind} {self.get_state_display()}"


class NoticeEvent(models.Model):
    """One change of state of a notice: from, to, why, when. To `SEEN`: its reader's word, which changes no state."""

    SEEN = "seen"

    notice = models.ForeignKey(Notice, on_delete=models.CASCADE, related_name="events")
    at = models.DateTimeField()
    old = models.CharField(max_length=10, blank=True)
    new = models.CharField(max_length=10)
    why = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.old} → {self.new}"


class MailboxMessage(models.Model):
    """A mail the demo shows on its mailbox page instead of sending it."""

    message_id = models.CharField(max_length=120)
    to = models.EmailField()
    subject = models.CharField(max_length=200)
    text = models.TextField()
    received_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-received_at", "-id"]

    def __str__(self) -> str:
        return self.subject
