"""The settings of the service with a shorter lease, tick and mail time-out, for runs that must wait for them."""

from __future__ import annotations

import os

from config import settings as real

globals().update({name: getattr(real, name) for name in dir(real) if name.isupper()})

NOTICE_LEASE_SECONDS = float(os.environ.get("FAULTS_LEASE_SECONDS", "6"))
NOTICE_RETRY_SECONDS = float(os.environ.get("FAULTS_RETRY_SECONDS", "3"))
SMTP_TIMEOUT_SECONDS = float(os.environ.get("FAULTS_SMTP_SECONDS", "2"))
CELERY_BEAT_SCHEDULE = {
    "tick": {
        "task": "safety.tick",
        "schedule": float(os.environ.get("FAULTS_TICK_SECONDS", "1")),
        "options": {"expires": 25},
    },
}
if _name := os.environ.get("FAULTS_DATABASE"):
    # A child of the test run works in the database the run has made.
    real.DATABASES["default"]["NAME"] = _name
