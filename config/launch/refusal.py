"""Why a launch can't go on."""

from __future__ import annotations


class LaunchRefused(Exception):
    """The service can't start or go on; the text is a sentence that says what to do."""
