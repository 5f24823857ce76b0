"""Pages of the staff package."""

from __future__ import annotations

from django.contrib.auth.views import LogoutView
from django.urls import path

from staff.pages import home

urlpatterns = [
    path("", home.home, name="home"),
    path("sign-in/", home.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
]
