"""How a page answers a form: kept and told, or shown again with what to mend."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from staff.errors import Conflict, NotAllowed, NotCleared, Refused

MENDABLE = 400


def refused_into(form: forms.BaseForm, refused: Refused) -> int:
    """Show a service's refusal in the form, at its fields where it names them; returns the status to answer."""
    named = {name: words for name, words in refused.fields.items() if name in form.fields}
    for name, words in named.items():
        form.add_error(name, words)
    if not named:
        form.add_error(None, refused.message)
    if isinstance(refused, Conflict | NotCleared):
        return 409
    return 403 if isinstance(refused, NotAllowed) else MENDABLE


def attempt(form: forms.BaseForm, act: Callable[[dict[str, Any]], object]) -> int:
    """Run `act` on the valid data; 0 when it was kept, else the status to answer with the form shown again."""
    if not form.is_valid():
        return MENDABLE
    try:
        act(form.cleaned_data)
    except Refused as refused:
        return refused_into(form, refused)
    return 0


def form_page(
    request: HttpRequest,
    form: forms.BaseForm,
    act: Callable[[dict[str, Any]], object],
    *,
    title: str,
    submit: str,
    back: str,
    done: str | Callable[[], tuple[int, str]],
    **context: Any,
) -> HttpResponse:
    """A page that is one form. After success the reader is sent to `back` and told `done`: words, or what gives the
    level of the message and its words once it was kept."""
    status = 200
    if request.method == "POST":
        status = attempt(form, act)
        if not status:
            level, words = (messages.SUCCESS, done) if isinstance(done, str) else done()
            messages.add_message(request, level, words)
            return redirect(back)
    context |= {"form": form, "title": title, "submit": submit, "back": back}
    return render(request, "staff/form_page.html", context, status=status)
