"""Addresses of the registry's resources."""

from rest_framework.routers import SimpleRouter

from registry.api.construct_types import ConstructTypes
from registry.api.constructs import Constructs
from registry.api.injuries import Injuries
from registry.api.patients import Patients
from registry.api.procedures import Procedures

router = SimpleRouter(use_regex_path=False)
router.register("patients", Patients, basename="api-patient")
router.register("injuries", Injuries, basename="api-injury")
router.register("procedures", Procedures, basename="api-procedure")
router.register("constructs", Constructs, basename="api-construct")
router.register("construct-types", ConstructTypes, basename="api-construct-type")
urlpatterns = router.urls
