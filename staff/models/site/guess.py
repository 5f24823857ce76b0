"""Tries at a secret, counted where parallel guesses meet: in one row, by one statement."""

from __future__ import annotations

from django.db import models


class GuessCounter(models.Model):
    """Tries at one secret (or of one kind of thing that is capped) since `window_started_at`.

    `key` is a digest: what was typed into a name field is sometimes the password.
    """

    key = models.CharField(max_length=80, unique=True)
    window_started_at = models.DateTimeField()
    tries = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.key}: {self.tries}"
