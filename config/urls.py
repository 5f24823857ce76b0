"""Addresses: pages of both packages, the API under /api/v1/, the admin."""

from __future__ import annotations

from django.contrib import admin
from django.urls import URLPattern, URLResolver, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("admin/", admin.site.urls),
]
