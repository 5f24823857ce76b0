"""What every step of a case has in common: a form, a service, the refusal shown in the form, back to the case."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from safety.errors import Conflict, KeyReused, Refused
from safety.pages.clinic_choice import ClinicAdvice
from staff.models import Site


@dataclass(frozen=True)
class Step:
    """Words of one step: its title, the button, where it leads back to, and what to read before.

    `other`: address and words of another way, where this step isn't the right one.
    """

    title: str
    submit: str
    back: str
    site: Site
    done: str
    before: tuple[str, ...] = field(default=())
    advice: ClinicAdvice | None = None
    other: tuple[str, str] | None = None


def show_refusal(form: forms.Form, refusal: Refused) -> int:
    """Put a refusal into the form, beside the fields it names; returns the HTTP status it deserves."""
    known = {name: words for name, words in refusal.fields.items() if name in form.fields}
    for name, words in known.items():
        form.add_error(name, words)
    if not known:
        form.add_error(None, refusal.message)
    return 409 if isinstance(refusal, (Conflict, KeyReused)) else 422


def run_step(
    request: HttpRequest, *, form: forms.Form, act: Callable[[dict[str, Any]], object], step: Step
) -> HttpResponse:
    """Show the form, or run `act` with its cleaned data and go back with a message; refusals stay on the page."""
    status = 200
    if request.method == "POST":
        if form.is_valid():
            try:
                act(form.cleaned_data)
            except Refused as refusal:
                status = show_refusal(form, refusal)
            else:
                messages.success(request, step.done)
                return redirect(step.back)
        else:
            status = 422
    return render(request, "safety/step.html", {"form": form, "step": step, "site": step.site}, status=status)
