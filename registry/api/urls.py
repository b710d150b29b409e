"""Addresses of the registry's resources."""

from rest_framework.routers import SimpleRouter

from registry.api.construct_types import ConstructTypes
from registry.api.constructs import Constructs
from registry.api.injuries import Injuries
from registry.api.labels import Labels
from registry.api.patients import Patients
from registry.api.procedures import Procedures
from registry.api.safety_notices import Carriers, Notices

router = SimpleRouter(use_regex_path=False)
router.register("patients", Patients, basename="api-patient")
router.register("injuries", Injuries, basename="api-injury")
router.register("procedures", Procedures, basename="api-procedure")
router.register("constructs", Constructs, basename="api-construct")
router.register("construct-types", ConstructTypes, basename="api-construct-type")
router.register("labels", Labels, basename="api-label")
router.register("safety-notices", Notices, basename="api-safety-notice")
router.register("notice-carriers", Carriers, basename="api-notice-carrier")
urlpatterns = router.urls
