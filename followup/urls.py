"""Addresses of the follow-up."""

from django.urls import path

from followup.views import (
    calendars,
    clinic,
    due,
    films,
    hardware,
    imports,
    load,
    protocols,
    questionnaires,
    timeline,
)

urlpatterns = [
    path("due/", due.due, name="due"),
    path("reviews/<int:review_id>/book/", due.book, name="review-book"),
    path("reviews/<int:review_id>/contact/", due.attempt, name="review-attempt"),
    path("reviews/<int:review_id>/not-needed/", due.not_needed, name="review-not-needed"),
    path("reviews/<int:review_id>/missed/", due.did_not_come, name="review-missed"),
    path("clinic/", clinic.clinic, name="clinic"),
    path("load/", load.load, name="load"),
    path("load/<int:site_id>/level/", load.level, name="load-level"),
    path("load/<int:site_id>/<str:monday>/", load.week, name="load-week"),
    path("load/proposals/<int:proposal_id>/", load.proposal, name="load-proposal"),
    path("load/proposals/<int:proposal_id>/apply/", load.apply, name="load-apply"),
    path("load/proposals/<int:proposal_id>/discard/", load.discard, name="load-discard"),
    path("reviews/<int:review_id>/move/", load.move, name="review-move"),
    path("clinic/<int:review_id>/", clinic.visit, name="clinic-visit"),
    path("patients/<str:key>/", timeline.patient, name="patient"),
    path("enrol/plan/<int:procedure_id>/", timeline.enrol_plan, name="enrol-plan"),
    path("import/", imports.choose, name="import"),
    path("import/template.csv", imports.template_file, name="import-template"),
    path("import/<slug:token>/", imports.check, name="import-check"),
    path("import/<slug:token>/rejected.csv", imports.rejected, name="import-rejected"),
    path("films/", films.films, name="films"),
    path("films/<int:film_id>/", films.read, name="films-read"),
    path("hardware/", hardware.hardware, name="hardware"),
    path("hardware/<int:decision_id>/", hardware.decide, name="hardware-decide"),
    path("setup/protocols/", protocols.protocols, name="setup-protocols"),
    path(
        "setup/protocols/<int:protocol_id>/new/", protocols.version_new, name="setup-protocol-new"
    ),
    path("setup/protocols/versions/<int:version_id>/", protocols.version, name="setup-protocol"),
    path(
        "setup/protocols/versions/<int:version_id>/own/",
        protocols.protocol_own,
        name="setup-protocol-own",
    ),
    path("setup/clinics/", calendars.clinics, name="setup-clinics"),
    path("setup/clinics/<int:clinic_id>/", calendars.clinic, name="setup-clinic"),
    path("setup/clinics/at/<int:site_id>/add/", calendars.clinic_add, name="setup-clinic-add"),
    path("setup/clinics/at/<int:site_id>/close/", calendars.close_day, name="setup-day-close"),
    path(
        "setup/clinics/at/<int:site_id>/holidays/",
        calendars.close_holidays,
        name="setup-holidays-close",
    ),
    path("setup/closed/<int:day_id>/open/", calendars.open_day, name="setup-day-open"),
    path("q/", questionnaires.questionnaire, name="questionnaire"),
    path("q/<str:link>/", questionnaires.open_link, name="questionnaire-open"),
]
