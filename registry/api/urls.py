"""Addresses of the registry's resources."""

from rest_framework.routers import SimpleRouter

from registry.api.patients import Patients
from registry.api.procedures import Procedures

router = SimpleRouter(use_regex_path=False)
router.register("patients", Patients, basename="api-patient")
router.register("procedures", Procedures, basename="api-procedure")
urlpatterns = router.urls
