"""Pages of the staff package."""

from __future__ import annotations

from django.contrib.auth.views import LogoutView
from django.urls import path

from staff.doors.status import check_kinds
from staff.pages.campaign import campaigns, community, field_plan, sessions
from staff.pages.importing import importing
from staff.pages.outing import (
    kit,
    outings,
    roster,
    roster_cell,
    roster_grid,
    roster_proposal,
    roster_rules,
    roster_undo,
)
from staff.pages.record import briefings, clearance, documents, me, people, readiness, records
from staff.pages.regimen import approvals, regimen_drafts, regimen_files, regimens
from staff.pages.site import account, account_changes, holidays, home, rules

urlpatterns = [
    path("", home.home, name="home"),
    path("sign-in/", home.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("account/", account.account, name="account"),
    path("account/changes/", account_changes.account_changes, name="account-changes"),
    path("account/roles/<int:pk>/", account_changes.role_answered, name="role-answer"),
    path("account/password/", account.password, name="account-password"),
    path("account/language/", account.language, name="account-language"),
    path("account/clocks/", account.clocks, name="account-clocks"),
    path("account/keys/", account.key_add, name="account-key-add"),
    path("account/keys/<slug:token_key>/revoke/", account.key_end, name="account-key-end"),
    path("me/", me.me, name="me"),
    path("readiness/", readiness.board, name="readiness"),
    path("briefings/add/", briefings.briefings_add, name="briefings-add"),
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
    path("people/<int:pk>/certificates/add/", documents.certificate_new, name="certificate-add"),
    path("people/<int:pk>/letters/add/", documents.letter_new, name="letter-add"),
    path("people/<int:pk>/health/", documents.person_health, name="person-health"),
    path("certificates/<uuid:key>/file/", documents.certificate_file, name="certificate-file"),
    path("certificates/<uuid:key>/check/", documents.certificate_check, name="certificate-check"),
    path("letters/<int:pk>/void/", documents.letter_end, name="letter-void"),
    path("titres/<int:pk>/void/", records.titre_end, name="titre-void"),
    path("doses/<int:pk>/void/", records.dose_end, name="dose-void"),
    path("holds/<int:pk>/release/", records.hold_end, name="hold-release"),
    path("sites/", rules.sites, name="sites"),
    path("sites/<slug:code>/rules/", rules.site_rules, name="site-rules"),
    path("sites/<slug:code>/rules/changes/<int:pk>/", rules.rules_change, name="rules-change"),
    path("sites/<slug:code>/holidays/", holidays.holidays, name="site-holidays"),
    path("sites/<slug:code>/holidays/<int:pk>/remove/", holidays.holiday_off, name="holiday-remove"),
    path("sites/<slug:code>/crews/", roster_rules.crew_shapes, name="crew-shapes"),
    path("people/<int:pk>/days/", roster_rules.wishes, name="wishes"),
    path("people/<int:pk>/days/<int:wish_pk>/remove/", roster_rules.wish_off, name="wish-remove"),
    path("roster/", roster_grid.grid, name="roster-grid"),
    path("roster/proposal/", roster_proposal.proposal, name="roster-proposal"),
    path("roster/undo/", roster_undo.undo, name="roster-undo"),
    path("roster/people/<int:pk>/<str:day>/", roster_cell.cell, name="roster-cell"),
    path("outings/", outings.outings, name="outings"),
    path("outings/add/", outings.outing_add, name="outing-add"),
    path("outings/kit-worker.js", kit.kit_worker, name="kit-worker"),
    path("outings/<int:pk>/", roster.outing, name="outing"),
    path("outings/<int:pk>/kit/", kit.kit, name="kit"),
    path("outings/<int:pk>/kit/tick/", kit.kit_ticked, name="kit-tick"),
    path("outings/<int:pk>/assign/", roster.assign, name="outing-assign"),
    path(
        "outings/<int:pk>/assignments/<int:assignment_pk>/withdraw/", roster.withdraw, name="outing-withdraw"
    ),
    path("outings/<int:pk>/move/", outings.outing_date, name="outing-move"),
    path("outings/<int:pk>/details/", outings.outing_details, name="outing-details"),
    path("outings/<int:pk>/cancel/", outings.outing_off, name="outing-cancel"),
    path("outings/<int:pk>/told/", community.outing_told, name="outing-told"),
    path("community-notices/<int:pk>/void/", community.told_void, name="community-void"),
    path("campaigns/", campaigns.campaigns, name="campaigns"),
    path("campaigns/add/", campaigns.campaign_add, name="campaign-add"),
    path("campaigns/<int:pk>/", campaigns.campaign, name="campaign"),
    path("campaigns/<int:pk>/people/", campaigns.campaign_people, name="campaign-people"),
    path("campaigns/<int:pk>/plan/", campaigns.campaign_plan, name="campaign-plan"),
    path("campaigns/<int:pk>/kit/", kit.campaign_totals, name="campaign-kit"),
    path("campaigns/<int:pk>/lists/", campaigns.campaign_lists, name="campaign-lists"),
    path("campaigns/<int:pk>/field/", field_plan.field, name="campaign-field"),
    path("campaigns/<int:pk>/field/plan/", field_plan.plan, name="campaign-field-plan"),
    path("campaigns/<int:pk>/field/told/", field_plan.told, name="campaign-field-told"),
    path("campaigns/<int:pk>/field/areas/add/", field_plan.area_new, name="campaign-area-add"),
    path("campaigns/<int:pk>/field/areas/<int:area_pk>/", field_plan.area_edit, name="campaign-area-change"),
    path(
        "campaigns/<int:pk>/field/areas/<int:area_pk>/remove/",
        field_plan.area_off,
        name="campaign-area-remove",
    ),
    path("sessions/<int:pk>/", sessions.session, name="session"),
    path("sessions/<int:pk>/given/", sessions.session_given, name="session-given"),
    path("sessions/<int:pk>/cancel/", sessions.session_off, name="session-cancel"),
    path("regimens/", regimens.regimens, name="regimens"),
    path("regimens-file/", regimen_files.regimens_file, name="regimens-file"),
    path("regimens-file/regimens.json", regimen_files.download, name="regimens-download"),
    path("regimens-file/regimens.schema.json", regimen_files.schema, name="regimens-schema"),
    path("regimens-add/", regimen_drafts.add, name="regimen-add"),
    path("regimens/<slug:code>/", regimens.regimen, name="regimen"),
    path("regimens/<slug:code>/<int:version>/copy/", regimen_drafts.copy, name="regimen-copy"),
    path("regimens/<slug:code>/<int:version>/edit/", regimen_drafts.edit, name="regimen-edit"),
    path("regimens/<slug:code>/<int:version>/submit/", regimen_drafts.submit, name="regimen-submit"),
    path("regimens/<slug:code>/<int:version>/send-back/", regimen_drafts.send_back, name="regimen-send-back"),
    path("regimens/<slug:code>/<int:version>/retire/", regimen_drafts.retire, name="regimen-retire"),
    path("approvals/<int:pk>/withdraw/", approvals.approval_withdraw, name="approval-withdraw"),
    path("regimens/<slug:code>/<int:version>/approve/", approvals.regimen_approval, name="regimen-approve"),
]

# Every page and every door of the API is loaded by now, and with them every refusal.
check_kinds()
