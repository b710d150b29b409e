"""Who tells patients of the slots that the hospital's system made."""

import pytest

from followup.models import HospitalSlot, Review
from followup.selectors.hospital_slots import hospital_tells, hospital_tells_at
from tests import builders, hospital
from tests.builders import TODAY

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.mark.parametrize(("made", "told"), [(True, True), (False, False)])
def test_the_hospital_tells_of_what_its_system_made_where_the_site_says_so(
    made: bool, told: bool
) -> None:
    review = Review.objects.filter(
        procedure=builders.procedure(), opens_on__lte=TODAY, closes_on__gte=TODAY
    ).get()
    slot = builders.booked(review)
    HospitalSlot.objects.create(
        site=review.site,
        patient=review.procedure.injury.patient,
        filler="F1",
        act="cancelled",
        clock="1",
        first_clock="1",
        appointment=slot,
        made=made,
    )
    door = hospital.door()
    assert not hospital_tells_at(review.site)
    assert not hospital_tells(slot)
    door.tells_bookings = True
    door.save(update_fields=["tells_bookings"])
    assert hospital_tells_at(review.site)
    assert not hospital_tells_at(builders.site("south"))
    assert hospital_tells(slot) is told
