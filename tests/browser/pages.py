"""Every page worth looking at, by who opens it: the screen checks and the README's pictures share this list."""

from __future__ import annotations

from playwright.sync_api import Page

# Account, then the pages it opens. {case}, {person} … are filled from links the account can see.
PAGES: dict[str, tuple[str, ...]] = {
    "": ("/sign-in/", "/report/"),
    "officer": (
        "/readiness/",
        "{person}",
        "/people/add/",
        "{person}edit/",
        "{person}clearance/",
        "{person}doses/add/",
        "/briefings/add/",
        "/people/import/",
        "/campaigns/",
        "/campaigns/add/",
        "{campaign}",
        "{campaign}?first=2026-01-01&weekdays=0&weekdays=1&weekdays=2&weekdays=3&weekdays=4",
        "{campaign}people/",
        "{campaign}lists/",
        "{campaign}kit/",
        "{campaign}field/",
        "{campaign}field/?weekdays=0&weekdays=1&weekdays=2&weekdays=3&weekdays=4",
        "{campaign}field/areas/add/",
        "{campaign}field/told/",
        "{outing}told/",
        "{session}",
        "{session}given/",
        "{session}cancel/",
        "/sites/",
        "/sites/lantern-valley/rules/",
        "{change}",
        "/outings/",
        "/outings/add/",
        "{outing}",
        "/roster/",
        "/roster/proposal/",
        "{cell}",
        "{person}days/",
        "/sites/lantern-valley/crews/",
        "{outing}kit/",
        "/cases/",
        "{case}",
        "{case}visit/",
        "{case}answer/",
        "{case}referral/",
        "{case}letter/",
        "{case}close/",
        "{person}phone-card/",
        "/reports-waiting/",
        "/desk/",
        "/doses/",
        "{course}",
        "{course}../end/",
        "{course}../regimen/",
        "{course}../place/",
        "{course}../dates/",
        "{animal}",
        "{animal}../outcome/",
        "{animal}../card/",
        "{animal}../void/",
        "{animal}../../",
        "/notices/",
        "/notices/?state=sent",
        "/notices/coming/",
        "{notice}",
        "/absences/",
        "/absences/add/",
        "/status/",
        "/sites/lantern-valley/plan/",
        "/sites/lantern-valley/plan/dose/",
        "/regimens/",
        "/regimens-add/",
        "/regimens/pep-im-0-3-7-14-28/",
        "/regimens/prep-im-0-7-21/1/approve/",
        "/sites/lantern-valley/holidays/",
        "/clinics/",
        "/clinics/add/",
        "/account/",
        "/mailbox/",
        "/no-such-page/",
    ),
    "liaison": (
        "/campaigns/",
        "{campaign}",
        "{campaign}field/",
        "{session}",
        "{session}given/",
        "/desk/",
        "/doses/",
        "{case}",
        "/notices/",
        "/clinics/",
        "/mailbox/",
    ),
    "member": ("/me/", "{days}", "/report/", "/outings/", "{outing}", "{outing}kit/", "/account/"),
    "lead": ("/outings/", "{outing}", "{outing}kit/", "{crew}", "{crew}../back/", "/report/"),
}
FROM = {
    "{person}": ("/readiness/", "/people/"),
    "{outing}": ("/outings/", "/outings/"),
    "{cell}": ("/roster/", "/roster/people/"),
    "{crew}": ("{outing}", "/outings/"),
    "{case}": ("/cases/", "/cases/"),
    "{campaign}": ("/campaigns/", "/campaigns/"),
    "{session}": ("{campaign}", "/sessions/"),
    "{course}": ("/doses/", "/courses/"),
    "{animal}": ("/desk/", "/cases/"),
    "{days}": ("/me/", "/people/"),
    "{notice}": ("/notices/?state=sent", "/notices/"),
    "{change}": ("/sites/lantern-valley/rules/", "/sites/lantern-valley/rules/changes/"),
}
NO_LINK = ("/import/", "/add/", "/coming/")
# Where the first link isn't the one that is meant.
ENDING = {"{animal}": "/animal/check/", "{days}": "/days/", "{crew}": "/leaving/"}


def fill(page: Page, path: str, found: dict[str, str] | None = None) -> str:
    """`path` with its placeholder replaced by the first such link on the page that lists them; `found` keeps it."""
    found = {} if found is None else found
    for placeholder, (listing, prefix) in FROM.items():
        if placeholder in path:
            if placeholder not in found:
                page.goto(fill(page, listing, found))
                found[placeholder] = first_link(page, placeholder, prefix)
            return path.replace(placeholder, found[placeholder])
    return path


def first_link(page: Page, placeholder: str, prefix: str) -> str:
    links = [link.get_attribute("href") or "" for link in page.locator(f"main a[href^='{prefix}']").all()]
    return next(
        link
        for link in links
        if link != prefix and not link.endswith(NO_LINK) and ("?" not in link or placeholder == "{cell}")
        if link.endswith(ENDING.get(placeholder, ""))
    ).split("#")[0]
