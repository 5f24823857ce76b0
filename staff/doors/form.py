"""The one form engine: shown, checked, done and told, or shown again with what to mend."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Any, Generic, TypeVar, cast

from django import forms
from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_variables

from staff.doors.retry import acting
from staff.doors.status import INVALID, status_of
from staff.ground.errors import Refused
from staff.models import Site

R = TypeVar("R")
# What to say once it was kept: words, or what gives the level and the words of each message from what was made.
Done = str | Callable[[Any], Iterable[tuple[int, str]]]


@dataclass(frozen=True, kw_only=True)
class After:
    """Where it leads and what is said there. `then`: the address after success where that isn't `back`."""

    back: str
    done: Done
    then: Callable[[Any], str] | None = None


@dataclass(frozen=True, kw_only=True)
class Step(After):
    """Words of a page that is one form. `before`: sentences to read first; `site`: treatment is touched, so its
    caution stands on the page; `advice`: the right clinic now; `other`: address and words of another way."""

    title: str
    submit: str
    before: tuple[str, ...] = ()
    site: Site | None = None
    advice: object = None
    other: tuple[str, str] | None = None


@dataclass(frozen=True)
class Outcome(Generic[R]):
    """What came of a form. `status`: of the page that shows it again, 200 while nothing was tried."""

    status: int = 200
    kept: bool = False
    made: R | None = None
    refused: Refused | None = None


@sensitive_variables()
def tried(act: Callable[[], R]) -> Outcome[R]:
    """Run the acting part; a refusal is an outcome."""
    try:
        return Outcome(kept=True, made=acting(act))
    except Refused as refused:
        return Outcome(status_of(refused), refused=refused)


def attempt(
    request: HttpRequest,
    form: forms.BaseForm,
    act: Callable[[dict[str, Any]], R],
    *more: forms.BaseFormSet[Any],
) -> Outcome[R]:
    """Run `act` on the valid data of a post. Invalid data and refusals land in `form`, at the fields they name.

    `more`: forms that are sent along and have to be valid too.
    """
    if request.method != "POST":
        return Outcome()
    # Every form is checked, so that all there is to mend is shown at once.
    checked = [form.is_valid(), *(each.is_valid() for each in more)]
    if not all(checked):
        return Outcome(INVALID)
    outcome = tried(partial(_once, form, act))
    if outcome.refused is not None:
        refused_into(form, outcome.refused)
    return outcome


def _once(form: forms.BaseForm, act: Callable[[dict[str, Any]], R]) -> R:
    """One try: whatever an earlier one took out of the data or read of a file is there again."""
    for file in cast("Iterable[UploadedFile[Any]]", form.files.values()):
        file.seek(0)
    return act(dict(form.cleaned_data))


def refused_into(form: forms.BaseForm, refused: Refused) -> int:
    """Show a refusal in the form, at its fields where it names them, else in the summary; returns its status."""
    named = {name: words for name, words in refused.fields.items() if name in form.fields}
    for name, words in named.items():
        form.add_error(name, words)
    if not named:
        form.add_error(None, refused.message)
    return status_of(refused)


def told(request: HttpRequest, outcome: Outcome[Any], after: After) -> HttpResponse:
    """To where it leads, with what is said there."""
    said = [(messages.SUCCESS, after.done)] if isinstance(after.done, str) else after.done(outcome.made)
    for level, words in said:
        messages.add_message(request, level, words)
    return redirect(after.then(outcome.made) if after.then else after.back)


def form_page(
    request: HttpRequest,
    form: forms.BaseForm,
    act: Callable[[dict[str, Any]], Any],
    step: After,
    *,
    template: str = "staff/form_page.html",
    around: Callable[[], dict[str, Any]] = dict,
) -> HttpResponse:
    """A page that is one form, in the words of its `Step`; a page with a `template` of its own shows what `around`
    gives beside it, read only when the page is shown."""
    outcome = attempt(request, form, act)
    if outcome.kept:
        return told(request, outcome, step)
    context = {"form": form, "step": step, **around()}
    return render(request, template, context, status=outcome.status)


def pressed(request: HttpRequest, act: Callable[[], Any], after: After) -> HttpResponse:
    """A button without a form: done and told where it leads, or the refusal is told at `back`."""
    outcome = tried(act)
    if outcome.refused is None:
        return told(request, outcome, after)
    messages.error(request, outcome.refused.message)
    return redirect(after.back)
