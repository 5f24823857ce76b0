"""A site's rules: what they are, what a change would do, and how far a change has come."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from staff.doors.form import After, Outcome, attempt, told
from staff.doors.page import OFFICER, page, signed_in
from staff.doors.status import INVALID
from staff.forms.site.rules import RulesForm, RulesReasonForm
from staff.models import RulesChange, Site, SiteRules, User
from staff.pages.lists import first_rows
from staff.selectors.access import Role, sites_as
from staff.selectors.site.rules_preview import (
    progress_of,
    rules_changes_visible_to,
    rules_consequences,
    rules_preview,
    withdrawn_by,
)
from staff.services.site.site_rules import NOT_CLEARANCE, site_rules_change

# Seconds until the page of a change that is under way looks again.
LOOK_AGAIN = 3

CHANGES_SHOWN = 20


@page(OFFICER)
def sites(request: HttpRequest) -> HttpResponse:
    """The sites whose rules one keeps; straight to the only one."""
    own = list(sites_as(signed_in(request), Role.OFFICER))
    if len(own) == 1:
        return redirect("site-rules", code=own[0].code)
    return render(request, "staff/sites.html", {"sites": own})


@never_cache
@page(OFFICER)
def site_rules(request: HttpRequest, code: str) -> HttpResponse:
    """Shown, changed on a form, previewed, and only then changed: the same post with a reason and `confirmed`."""
    user, site = signed_in(request), _site(request, code)
    before = SiteRules.objects.get(pk=site.rules.pk)
    form = RulesForm(request.POST or None, instance=SiteRules.objects.get(pk=site.rules.pk))
    reason = RulesReasonForm(request.POST if "confirmed" in request.POST else None)
    outcome, asked = Outcome[RulesChange](_status(request, form)), _asked(request, form)
    # Only what was shown is changed: figures edited after the preview are previewed first.
    if asked and "confirmed" in request.POST and request.POST.get("previewed") == _mark(form):
        outcome = attempt(request, reason, lambda said: _change(user, before, form, said["reason"]))
    if outcome.kept:
        return told(request, outcome, _changed(code))
    context = {"site": site, "form": form, "reason_form": reason}
    changes = first_rows(request, rules_changes_visible_to(user, site), CHANGES_SHOWN)
    context |= {"changes": changes.rows, "more": changes.more} | (_preview(site, form) if asked else {})
    return render(request, "staff/site_rules.html", context, status=outcome.status)


def _site(request: HttpRequest, code: str) -> Site:
    return get_object_or_404(sites_as(signed_in(request), Role.OFFICER), code=code)


def _asked(request: HttpRequest, form: RulesForm) -> bool:
    """Whether some figure would change."""
    return request.method == "POST" and form.is_valid() and bool(form.changes())


def _status(request: HttpRequest, form: RulesForm) -> int:
    """Of the page as it is before anything is changed; a post that asks for nothing says so in the form."""
    if request.method != "POST" or _asked(request, form):
        return 200
    if form.is_valid():
        form.add_error(None, _("Nothing would change; the rules are what they were."))
    return INVALID


def _changed(code: str) -> After:
    return After(
        back=reverse("site-rules", args=[code]),
        done=_("The new rules hold from now on."),
        then=lambda change: reverse("rules-change", args=[code, change.pk]),
    )


def _change(user: User, rules: SiteRules, form: RulesForm, reason: str) -> RulesChange:
    return site_rules_change(
        actor=user, rules=rules, changes=form.changes(), reason=reason, now=timezone.now()
    )


def _mark(form: RulesForm) -> str:
    return " ".join(f"{name}={value}" for name, value in sorted(form.changes().items()))


def _preview(site: Site, form: RulesForm) -> dict[str, Any]:
    changes = form.changes()
    touched = not set(changes) <= NOT_CLEARANCE
    return {
        "asked": [(form.fields[name].label, form.initial[name], value) for name, value in changes.items()],
        "touched": touched,
        "consequences": rules_consequences(site, changes),
        "mark": _mark(form),
        "days": rules_preview(site, changes, site.local_date(timezone.now())) if touched else [],
    }


@never_cache
@page(OFFICER)
def rules_change(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    site = _site(request, code)
    change = get_object_or_404(rules_changes_visible_to(signed_in(request), site), pk=pk)
    response = render(request, "staff/rules_change.html", {"site": site, **_progress(change)})
    if change.finished_at is None:
        # No script needed: the browser itself asks again until the recompute is done.
        response["Refresh"] = str(LOOK_AGAIN)
    return response


def _progress(change: RulesChange) -> dict[str, Any]:
    labels = {field.name: field.verbose_name for field in SiteRules._meta.fields}
    labels["regimen"] = _("Approved regimen")
    return {
        "change": change,
        "figures": [
            (labels.get(name, name), *_told(name, told["old"], told["new"]))
            for name, told in change.changes.items()
        ],
        "progress": progress_of(change),
        "withdrawn": withdrawn_by(change),
        "look_again": LOOK_AGAIN if change.finished_at is None else None,
    }


def _told(name: str, *values: Any) -> list[Any]:
    """A figure that is empty isn't asked; a regimen that is empty isn't approved."""
    return [_("not approved") if value is None and name == "regimen" else value for value in values]
