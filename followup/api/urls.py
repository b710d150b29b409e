"""Addresses of the follow-up's resources."""

from django.urls import path
from rest_framework.routers import SimpleRouter

from followup.api.complications import Complications
from followup.api.films import Films, Readings
from followup.api.hardware import HardwareDecisions
from followup.api.images import FilmImages, FilmsIn
from followup.api.motion import MotionExams
from followup.api.replies import Replies
from followup.api.reviews import Reviews
from followup.api.scores import Scores

router = SimpleRouter(use_regex_path=False)
router.register("reviews", Reviews, basename="api-review")
router.register("films", Films, basename="api-film")
router.register("film-images", FilmImages, basename="api-film-image")
router.register("films-in", FilmsIn, basename="api-film-in")
router.register("readings", Readings, basename="api-reading")
router.register("motion-exams", MotionExams, basename="api-motion-exam")
router.register("scores", Scores, basename="api-score")
router.register("complications", Complications, basename="api-complication")
router.register("hardware-decisions", HardwareDecisions, basename="api-hardware-decision")
urlpatterns = [
    *router.urls,
    path("replies/<slug:site_code>/", Replies.as_view(), name="api-reply"),
]
