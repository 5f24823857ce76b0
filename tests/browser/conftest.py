"""One running service with the demo, and one Chromium, for all browser tests."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes
from email.message import Message
from pathlib import Path

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from playwright.sync_api import Browser, Page, sync_playwright

from safety.demo.accounts import PASSWORD
from tests.launching import Launch, free_port, own_database
from tests.needs import chromium_path

# Without these Chromium asks its maker's hosts for news at every start.
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip
PHONE, WIDE = {"width": 360, "height": 740}, {"width": 1280, "height": 900}


@dataclass
class Sink:
    """A real SMTP server on this machine that keeps what it takes."""

    port: int
    mails: list[Message] = field(default_factory=list)

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:
        self.mails.append(message_from_bytes(envelope.content or b""))  # type: ignore[arg-type]
        return "250 taken"


@contextmanager
def sink_running() -> Iterator[Sink]:
    sink = Sink(free_port())
    controller = Controller(sink, hostname="127.0.0.1", port=sink.port)
    controller.start()
    yield sink
    controller.stop()


@dataclass
class Service:
    """A running `manage.py up`. `sink` holds the mail when the run has a real SMTP server, else None."""

    url: str
    data_dir: Path
    database_url: str | None
    sink: Sink | None


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """On PostgreSQL and Redis with real SMTP when they are given, else on the embedded default with the mailbox page."""
    data_dir = tmp_path_factory.mktemp("up") / "data"
    with ExitStack() as stack:
        extra: dict[str, str] = {}
        sink = None
        if os.environ.get("DATABASE_URL") and os.environ.get("REDIS_URL"):
            sink = stack.enter_context(sink_running())
            extra = {
                "DATABASE_URL": stack.enter_context(own_database("browser")),
                "REDIS_URL": os.environ["REDIS_URL"],
                "SMTP_URL": f"smtp://127.0.0.1:{sink.port}",
                "DEMO": "1",
            }
        port = free_port()
        launch = Launch(data_dir, port, **extra)
        stack.callback(launch.end, signal.SIGTERM)
        launch.until_ready()
        yield Service(f"http://127.0.0.1:{port}", data_dir, extra.get("DATABASE_URL"), sink)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    # Playwright keeps an event loop in this thread, which Django takes for async code: other tests follow in it.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=QUIET)
        yield browser
        browser.close()


def signed_in(
    browser: Browser, service: Service, username: str, size: dict[str, int], **options: object
) -> Page:
    """A fresh window of that size, signed in as a demo account."""
    context = browser.new_context(viewport=size, base_url=service.url, **options)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto("/sign-in/")
    page.fill("[name=username]", username)
    page.fill("[name=password]", PASSWORD)
    page.click("main button[type=submit]")
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    return page
