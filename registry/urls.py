"""Addresses of the registry."""

from django.urls import path

from registry.views import (
    alternatives,
    corrections,
    duplicates,
    enrolment,
    interface,
    patients,
    setup,
)

urlpatterns = [
    path("patients/", patients.patients, name="patients"),
    path("patients/<str:key>/identity/", patients.identity, name="patient-identity"),
    path("patients/<str:key>/numbers/", patients.number_add, name="patient-number-add"),
    path("patients/<str:key>/contacts/", alternatives.contact_add, name="patient-contact-add"),
    path(
        "contacts/<int:contact_id>/correct/", alternatives.contact_correct, name="contact-correct"
    ),
    path("contacts/<int:contact_id>/remove/", alternatives.contact_remove, name="contact-remove"),
    path("patients/<str:key>/status/", patients.status, name="patient-status"),
    path("patients/<str:key>/consent/", patients.consent, name="patient-consent"),
    path("patients/<str:key>/history/", patients.history, name="patient-history"),
    path("numbers/<int:identifier_id>/remove/", patients.number_remove, name="number-remove"),
    path("enrol/", enrolment.enrol, name="enrol"),
    path("enrol/injury/<str:key>/", enrolment.injury, name="enrol-injury"),
    path("enrol/operation/<int:injury_id>/", enrolment.procedure, name="enrol-procedure"),
    path("enrol/construct/<int:procedure_id>/", enrolment.construct, name="enrol-construct"),
    path("enrol/checks/<int:procedure_id>/", enrolment.checks, name="construct-checks"),
    path("injuries/<int:injury_id>/correct/", corrections.injury, name="injury-correct"),
    path("injuries/<int:injury_id>/class/", corrections.classify, name="injury-classify"),
    path("operations/<int:procedure_id>/correct/", corrections.procedure, name="procedure-correct"),
    path(
        "operations/<int:procedure_id>/construct/", corrections.construct, name="construct-correct"
    ),
    path("operations/<int:procedure_id>/parts/", corrections.part_add, name="part-add"),
    path("void/<str:kind>/<int:row_id>/", corrections.void, name="void"),
    path("duplicates/", duplicates.duplicates, name="duplicates"),
    path("duplicates/merge/", duplicates.merge, name="duplicates-merge"),
    path("duplicates/undo/<int:merge_id>/", duplicates.undo, name="duplicates-undo"),
    path("api/", interface.interface, name="interface"),
    path("account/tokens/make/", interface.token_make, name="token-make"),
    path("account/tokens/<str:begins>/revoke/", interface.token_revoke, name="token-revoke"),
    path("setup/", setup.setup, name="setup"),
    path("setup/sites/", setup.sites, name="setup-sites"),
    path("setup/sites/add/", setup.site_add, name="setup-site-add"),
    path("setup/sites/<int:site_id>/", setup.site, name="setup-site"),
    path("setup/people/", setup.people, name="setup-people"),
    path("setup/people/add/", setup.person_add, name="setup-person-add"),
    path("setup/people/known/", setup.role_grant_known, name="setup-role-known"),
    path("setup/people/<int:person_id>/", setup.person, name="setup-person"),
    path("setup/people/<int:person_id>/role/", setup.role_grant, name="setup-role-grant"),
    path("setup/roles/<int:membership_id>/end/", setup.role_end, name="setup-role-end"),
    path("setup/construct-types/", setup.construct_types, name="setup-construct-types"),
    path("setup/construct-types/add/", setup.construct_type_add, name="setup-construct-type-add"),
    path(
        "setup/construct-types/<int:type_id>/",
        setup.construct_type,
        name="setup-construct-type",
    ),
]
