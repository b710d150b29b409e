"""The invented letters: what went out, and what is still a draft."""

from collections import Counter
from dataclasses import replace

import pytest

from analytics.simulation import setting
from config.demo import letters
from config.demo.staff import open_service
from followup.models import Letter, LetterText
from followup.services import visits
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_a_site_has_letters_that_went_out_and_one_that_did_not() -> None:
    staff = open_service(setting.DEMO_SITES, years=setting.DEMO_YEARS, now=NOW, today=TODAY)
    staff = replace(staff, sites=(builders.site(),))
    for _ in range(3):
        review = builders.procedure().reviews.get(step__code="6m")
        visits.save_visit(
            review=review,
            visited_on=TODAY,
            findings=visits.VisitFindings(next_step_note="full load"),
            expected_version=review.version,
            by=review.recorded_by,
            now=NOW,
            today=TODAY,
        )
    assert letters.write(staff, now=NOW, today=TODAY) == 3
    found = Counter(Letter.objects.values_list("kind", "state"))
    assert found == {("note", "sent"): 1, ("referrer", "sent"): 1, ("patient", "draft"): 1}
    assert LetterText.objects.filter(pages__isnull=False).count() == 2
    assert all("full load" in text.body for text in LetterText.objects.all())
