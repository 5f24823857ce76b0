"""`python3 manage.py up`: everything on this machine from one command, until Ctrl-C.

In order: environment, data folder, port, database, demo; then the keeper, the web server, the worker
and the clock (beat); then the address. Exit codes: 0 stopped on request, 1 a process failed, 2 refused.
"""

from __future__ import annotations

import argparse
import http.client
import os
import signal
import sys
import time
from collections.abc import Sequence

from config.env import CHECKOUT, Environment, EnvironmentRefused, read_environment
from config.launch import prepare
from config.launch.children import Family
from config.launch.refusal import LaunchRefused

READY_WITHIN_SECONDS = 60.0
LOOK_EVERY_SECONDS = 0.2


def say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def main(arguments: Sequence[str]) -> int:
    """Run until asked to stop; returns the exit code."""
    parser = argparse.ArgumentParser(prog="manage.py up", description="Start web server, worker and clock.")
    parser.add_argument("--no-demo", action="store_true", help="leave an empty database empty")
    parser.add_argument(
        "--logs", action="store_true", help="show what the processes write (always in DATA_DIR/logs)"
    )
    options = parser.parse_args(arguments)
    _stop_on_signals()
    try:
        environment = read_environment()
        return run(environment, with_demo=environment.demo and not options.no_demo, with_logs=options.logs)
    except (EnvironmentRefused, LaunchRefused) as refused:
        sys.stderr.write(f"{refused}\n")
        return 2
    except KeyboardInterrupt:
        say("Stopped.")
        return 0


def _stop_on_signals() -> None:
    """Make every polite stop the same as Ctrl-C; one that the caller switched off (nohup) stays off."""
    for sign in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        if signal.getsignal(sign) is not signal.SIG_IGN:
            signal.signal(sign, signal.default_int_handler)


def run(environment: Environment, *, with_demo: bool, with_logs: bool) -> int:
    """Prepare, start, watch, end. Raises LaunchRefused before anything runs; returns 1 when a process fails."""
    held = prepare.claim_folder(environment.data_dir, say=say)
    prepare.check_port(environment.port)
    say("Preparing the database.")
    prepare.prepare_database()
    if with_demo and (loaded := prepare.load_demo_once()):
        say(loaded)
    family = Family(
        folder=CHECKOUT,
        logs=environment.data_dir / "logs",
        environment=os.environ | {"DATA_DIR": str(environment.data_dir), "PYTHONUNBUFFERED": "1"},
    )
    try:
        family.start_keeper(held=held)
        _start(family, environment)
        wait_until_ready(family, environment, with_logs=with_logs)
        _greet(environment, with_demo=with_demo)
        while True:
            _look(family, with_logs=with_logs, may_restart=True)
    except KeyboardInterrupt:
        say("\nStopping; the worker finishes what it holds.")
        raise
    except LaunchRefused as failed:
        sys.stderr.write(f"{failed}\n")
        return 1
    finally:
        # A second Ctrl-C must not leave anybody behind; the end takes ten seconds at most.
        for sign in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(sign, signal.SIG_IGN)
        family.end()
        os.close(held)


def _start(family: Family, environment: Environment) -> None:
    web = [
        "--bind",
        f"127.0.0.1:{environment.port}",
        "--worker-class",
        "gthread",
        "--workers",
        "2",
        "--threads",
        "4",
    ]
    quick = ["--graceful-timeout", "5", "--no-control-socket", "--log-level", "warning"]
    family.add("web", ["-m", "gunicorn", "config.wsgi:application", *web, *quick])
    celery = ["-m", "celery", "-A", "config.celery:app"]
    pool = ["--pool", "threads", "--concurrency", "2", "--without-gossip", "--without-mingle"]
    family.add("worker", [*celery, "worker", *pool, "--loglevel", environment.log_level])
    schedule = ["--schedule", str(environment.data_dir / "beat-schedule"), "--pidfile", ""]
    family.add("beat", [*celery, "beat", *schedule, "--loglevel", environment.log_level])


def _look(family: Family, *, with_logs: bool, may_restart: bool) -> None:
    for line in family.look(now=time.monotonic(), may_restart=may_restart):
        say(line)
    for line in family.news() if with_logs else ():
        say(line)
    time.sleep(LOOK_EVERY_SECONDS)


def wait_until_ready(family: Family, environment: Environment, *, with_logs: bool) -> None:
    """Return when /healthz answers 200. One that answers otherwise to the end is told, and the service goes on:
    reminders that waited while it was stopped may still be leaving. Raises LaunchRefused when nothing answers."""
    deadline = time.monotonic() + READY_WITHIN_SECONDS
    answer: tuple[int, str] | None = None
    while time.monotonic() < deadline:
        _look(family, with_logs=with_logs, may_restart=False)
        answer = health(environment.port) or answer
        if answer and answer[0] == 200:
            return
    if answer is None:
        raise LaunchRefused(
            f"The web server did not answer in {READY_WITHIN_SECONDS:.0f} s: read {family.logs}/web.log."
        )
    say(f"CAUTION: running, but not well: /healthz answers {answer[0]}: {answer[1]}")


def health(port: int) -> tuple[int, str] | None:
    """Status and text of /healthz, or None when nobody answers yet."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request("GET", "/healthz")
        response = connection.getresponse()
        return response.status, response.read(2000).decode(errors="replace")
    except (OSError, http.client.HTTPException):
        return None
    finally:
        connection.close()


def _greet(environment: Environment, *, with_demo: bool) -> None:
    say(f"\nThree-Fifteen is ready at http://127.0.0.1:{environment.port}/  (stop with Ctrl-C)")
    say(f"Data: {environment.data_dir}   Logs: {environment.data_dir / 'logs'}")
    if with_demo:
        say("Demo accounts; everyone and everything in the demo is invented:")
        for line in prepare.demo_accounts():
            say(f"  {line}")
    say("Local health authorities and clinicians decide treatment; this program keeps dates and reminds.")
