"""An injury with one of everything that can hang on it."""

from followup.models import (
    FilmImage,
    ImageCalibration,
    Invitation,
    ProtocolVersion,
    Reading,
    ReadingFinding,
    Review,
    VersionMove,
    VisitDraft,
)
from registry.models import Construct, ConstructDeparture, ForeignNumber, Injury, Patient
from tests import builders, world
from tests.builders import NOW


def full() -> tuple[Injury, Patient]:
    """Return an injury with one of everything that can hang on it, and whose it really is."""
    things = world.one_of_each("north")
    injury = Injury.objects.select_related("site", "recorded_by").get(pk=things["injury_id"])
    by = injury.recorded_by
    stamps = {
        **{"site": injury.site, "recorded_at": NOW, "changed_at": NOW},
        **{"recorded_by": by, "changed_by": by},
    }
    Invitation.objects.update(completed_at=NOW)
    review = Review.objects.filter(procedure__injury=injury).earliest("pk")
    VisitDraft.objects.create(person=by, review=review, review_version=1, saved_at=NOW)
    image = FilmImage.objects.filter(film__injury=injury).earliest("pk")
    ImageCalibration.objects.create(image=image, how="none", **stamps)
    reading = Reading.objects.filter(film__injury=injury).earliest("pk")
    ReadingFinding.objects.create(reading=reading, kind="screw_loosened", state="absent", **stamps)
    construct = Construct.objects.get(procedure__injury=injury)
    ConstructDeparture.objects.create(
        construct=construct, check_id="x", check_version=1, found="y", **stamps
    )
    versions = ProtocolVersion.objects.order_by("pk")[:2]
    VersionMove.objects.create(
        procedure=construct.procedure,
        from_version=versions[0],
        to_version=versions[1],
        reason="x",
        **stamps,
    )
    ForeignNumber.objects.create(
        site=injury.site, system="urn:there", value="1", injury=injury, kept_at=NOW
    )
    return injury, builders.patient()
