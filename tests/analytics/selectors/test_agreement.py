"""What readers said of the same films, from rows to the answer, and whose names are shown."""

from typing import Any

import pytest

from analytics.selectors import agreement as selector
from analytics.selectors import outcomes
from analytics.selectors.cohorts import CohortRule
from analytics.services import snapshots
from followup.models import ReadingPolicy, WantedReading
from followup.services import second_readings
from registry.errors import BadInput
from registry.models import Person
from tests import builders
from tests.analytics.records import operation
from tests.builders import NOW, TODAY
from tests.followup.twice import film, policy, read, readers

pytestmark = pytest.mark.usefixtures("defaults")
# Six subjects, the first and the third of four judges: Shrout and Fleiss 1979, Table 2.
FIRST, THIRD = [9, 6, 8, 7, 10, 6], [5, 3, 6, 2, 6, 4]


def read_twice(one: Person, two: Person) -> None:
    """Let two readers read as those judges judged, each film of a patient of its own."""
    for first, third in zip(FIRST, THIRD, strict=True):
        shown = film(operation().injury)
        read(shown, one, first, None)
        read(shown, two, third, None)


def view() -> Any:
    sites = [builders.site()]
    snapshot = snapshots.current(now=NOW, today=TODAY)
    return outcomes.given(CohortRule(), sites, snapshot, snapshots.frames_of(snapshot))


def test_published_judges_come_through_from_the_rows_of_readings(quality_lead: Person) -> None:
    one, two, _ = readers()
    read_twice(one, two)
    found = selector.agreeing(view(), quality_lead, [builders.site()])
    whole = found.answer.whole("ccd_injured_mm")
    assert whole.pairs == 6
    assert whole.agreement is not None
    assert whole.consistency is not None
    assert whole.change is not None
    # Worked by hand from the mean squares 23/5 of subjects, 100/3 of judges, 11/15 of the rest.
    between, judges, rest = 23 / 5, 100 / 3, 11 / 15
    assert whole.consistency.estimate == pytest.approx((between - rest) / (between + rest))
    assert whole.agreement.estimate == pytest.approx(
        (between - rest) / (between + rest + 2 * (judges - rest) / 6)
    )
    error = ((judges - rest) / 6 + rest) ** 0.5
    assert whole.change.std_error_of_measurement == pytest.approx(error)
    assert whole.change.estimate == pytest.approx(1.959964 * 2**0.5 * error, rel=1e-6)


def test_superseded_and_voided_readings_do_not_count(quality_lead: Person) -> None:
    one, two, three = readers()
    shown = film(operation().injury)
    read(shown, one, 9.0)
    read(shown, two, 20.0)
    read(shown, two, 9.5)
    alone = film(operation().injury)
    read(alone, one, 9.0)
    wrong = read(alone, three, 30.0)
    type(wrong).objects.filter(pk=wrong.pk).update(
        voided_at=NOW, voided_by=quality_lead, void_reason="another film"
    )
    (row,) = selector.pairs_of(view()).table.to_dict("records")
    assert (row["film_id"], row["second_ccd_injured_mm"]) == (shown.pk, 9.5)


def test_who_may_not_see_readers_sees_themself_alone(quality_lead: Person, surgeon: Person) -> None:
    one, two, _ = readers()
    read_twice(one, two)
    found, site = selector.pairs_of(view()), [builders.site()]
    assert selector.reader_names(found, quality_lead, site) == {
        one.pk: "Reader 1",
        two.pk: "Reader 2",
    }
    assert selector.reader_names(found, one, site) == {one.pk: "you"}
    assert selector.reader_names(found, surgeon, site) == {}
    elsewhere = builders.site("south")
    assert selector.reader_names(found, quality_lead, [*site, elsewhere]) == {}


def test_readers_of_one_name_are_told_apart(quality_lead: Person) -> None:
    one, two, _ = readers()
    Person.objects.filter(pk__in=[one.pk, two.pk]).update(shown_name="Ann Reader")
    read_twice(one, two)
    names = selector.reader_names(selector.pairs_of(view()), quality_lead, [builders.site()])
    assert set(names.values()) == {"Ann Reader (reader_1)", "Ann Reader (reader_2)"}


def test_sites_that_assume_different_changes_assume_no_one() -> None:
    north, south = builders.site(), builders.site("south")
    assert selector.assumed_change([north, south]) == 2.0
    ReadingPolicy.objects.create(site=south, mdc_mm="1.5")
    assert selector.assumed_change([south]) == 1.5
    assert selector.assumed_change([north, south]) is None
    assert selector.assumed_change([]) is None


def test_who_is_about_to_read_a_film_is_not_shown_what_others_read(surgeon: Person) -> None:
    policy()
    one, two, _ = readers()
    shown = film(operation().injury)
    read(shown, one, 9.0)
    read(shown, two, 15.0)
    length = selector.measurement_of("")
    assert selector.apart_films(view(), length, surgeon)["film_id"].tolist() == [shown.pk]
    third = WantedReading.objects.get(turn=3)
    second_readings.take(wanted=third, by=surgeon, now=NOW, expected_version=1)
    assert selector.apart_films(view(), length, surgeon).empty


def test_a_measurement_that_is_none_is_refused() -> None:
    assert selector.measurement_of("union").code == "union"
    with pytest.raises(BadInput, match="'shoe' is not one of ccd_injured_mm"):
        selector.measurement_of("shoe")
