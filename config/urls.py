"""Addresses: pages of both packages, the API under /api/v1/, the admin."""

from __future__ import annotations

from django.contrib import admin
from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("staff.urls")),
    path("", include("safety.urls")),
    path("api/v1/", include("staff.api.urls")),
    path("api/v1/", include("safety.api.urls")),
    path("admin/", admin.site.urls),
]
