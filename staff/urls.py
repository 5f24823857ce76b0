"""Pages of the staff package."""

from __future__ import annotations

from django.contrib.auth.views import LogoutView
from django.urls import path

from staff.pages import (
    account,
    campaigns,
    clearance,
    home,
    importing,
    me,
    outings,
    people,
    readiness,
    records,
    regimens,
    roster,
    rules,
    sessions,
)

urlpatterns = [
    path("", home.home, name="home"),
    path("sign-in/", home.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("account/", account.account, name="account"),
    path("account/password/", account.password, name="account-password"),
    path("account/language/", account.language, name="account-language"),
    path("account/keys/", account.key_add, name="account-key-add"),
    path("account/keys/<str:token_key>/revoke/", account.key_end, name="account-key-end"),
    path("me/", me.me, name="me"),
    path("readiness/", readiness.board, name="readiness"),
    path("people/add/", people.person_add, name="person-add"),
    path("people/import/", importing.upload, name="import"),
    path("people/import/<uuid:key>/", importing.draft, name="import-draft"),
    path("people/import/<uuid:key>/apply/", importing.apply, name="import-apply"),
    path("people/import/<uuid:key>/discard/", importing.discard, name="import-discard"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/edit/", people.person_edit, name="person-edit"),
    path("people/<int:pk>/doses/add/", records.dose_add, name="dose-add"),
    path("people/<int:pk>/titres/add/", records.titre_add, name="titre-add"),
    path("people/<int:pk>/briefings/add/", records.briefing_add, name="briefing-add"),
    path("people/<int:pk>/holds/add/", records.hold_add, name="hold-add"),
    path("people/<int:pk>/clearance/", clearance.person_clearance, name="person-clearance"),
    path("doses/<int:pk>/void/", records.dose_end, name="dose-void"),
    path("holds/<int:pk>/release/", records.hold_end, name="hold-release"),
    path("sites/", rules.sites, name="sites"),
    path("sites/<slug:code>/rules/", rules.site_rules, name="site-rules"),
    path("sites/<slug:code>/rules/changes/<int:pk>/", rules.rules_change, name="rules-change"),
    path("outings/", outings.outings, name="outings"),
    path("outings/add/", outings.outing_add, name="outing-add"),
    path("outings/<int:pk>/", roster.outing, name="outing"),
    path("outings/<int:pk>/assign/", roster.assign, name="outing-assign"),
    path(
        "outings/<int:pk>/assignments/<int:assignment_pk>/withdraw/", roster.withdraw, name="outing-withdraw"
    ),
    path("outings/<int:pk>/move/", outings.outing_date, name="outing-move"),
    path("outings/<int:pk>/cancel/", outings.outing_off, name="outing-cancel"),
    path("campaigns/", campaigns.campaigns, name="campaigns"),
    path("campaigns/add/", campaigns.campaign_add, name="campaign-add"),
    path("campaigns/<int:pk>/", campaigns.campaign, name="campaign"),
    path("campaigns/<int:pk>/people/", campaigns.campaign_people, name="campaign-people"),
    path("campaigns/<int:pk>/plan/", campaigns.campaign_plan, name="campaign-plan"),
    path("campaigns/<int:pk>/lists/", campaigns.campaign_lists, name="campaign-lists"),
    path("sessions/<int:pk>/", sessions.session, name="session"),
    path("sessions/<int:pk>/given/", sessions.session_given, name="session-given"),
    path("sessions/<int:pk>/cancel/", sessions.session_off, name="session-cancel"),
    path("regimens/", regimens.regimens, name="regimens"),
    path("regimens/<slug:code>/", regimens.regimen, name="regimen"),
    path("regimens/<slug:code>/<int:version>/approve/", regimens.regimen_approval, name="regimen-approve"),
]
