"""How the suite keeps passwords: the same algorithm as the service, without the work that makes guessing dear."""

from __future__ import annotations

from django.contrib.auth.hashers import Argon2PasswordHasher


class QuickArgon2(Argon2PasswordHasher):
    """Half a second of processor less for each password set and checked."""

    time_cost = 1
    memory_cost = 8
    parallelism = 1
