"""Delivery reports by the grammar of RFC 3464 (fields) and RFC 6522 (multipart/report), composed with the email library.

No mail server here can make one: aiosmtpd, the server of the other tests, refuses while it is spoken to and never later.
"""

from __future__ import annotations

from email.message import Message
from email.mime.base import MIMEBase
from email.mime.message import MIMEMessage
from email.mime.multipart import MIMEMultipart
from email.mime.text import MIMEText
from email.utils import make_msgid

from safety.emails.build import build_mail
from safety.models import Notice


def fields(**values: str) -> Message:
    group = Message()
    for name, value in values.items():
        group[name.replace("_", "-")] = value
    return group


def recipient(action: str = "failed", status: str = "5.1.1", said: str = "550 5.1.1 no such user") -> Message:
    """RFC 3464, 2.3: Final-Recipient, Action and Status must be there; the diagnostic may."""
    return fields(
        Final_Recipient="rfc822; reader@example.org",
        Action=action,
        Status=status,
        Diagnostic_Code=f"smtp; {said}",
    )


def report(
    returned: Message | None, *recipients: Message, whole: bool = False, name: str = ""
) -> MIMEMultipart:
    mail = MIMEMultipart("report", report_type="delivery-status")
    mail["From"], mail["To"] = "mailer-daemon@example.net", "reminders@example.org"
    mail["Message-ID"] = name or make_msgid(domain="example.net")
    mail.attach(MIMEText("Your mail could not be delivered.\n"))
    status = MIMEBase("message", "delivery-status")
    groups = recipients or (recipient(),)
    status.set_payload([fields(Reporting_MTA="dns; mail.example.net"), *groups])
    mail.attach(status)
    if returned is None:
        return mail
    if whole:
        mail.attach(MIMEMessage(returned))
        return mail
    headers = MIMEBase("text", "rfc822-headers")
    headers.set_payload("".join(f"{key}: {value}\n" for key, value in returned.items()))
    mail.attach(headers)
    return mail


def report_of(notice: Notice, *recipients: Message, whole: bool = False, name: str = "") -> bytes:
    """The report a mail server would send about this notice's mail."""
    sent = build_mail(notice, notice.send_on)
    return report(sent, *recipients, whole=whole, name=name).as_bytes()
