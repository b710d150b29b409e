"""Films and readings over the interface."""

from collections.abc import Callable
from typing import Any

import pytest

from followup.models import Film, Reading
from registry.models import Injury, Person
from tests import builders
from tests.analytics.records import operation, reading
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.django_db
FILMS, READINGS = "/api/v1/films/", "/api/v1/readings/"


@pytest.fixture
def api(surgeon: Person) -> Program:
    return signed_in(surgeon)


def film(injury: Injury, **changes: Any) -> dict[str, Any]:
    return {
        "injury": injury.pk,
        "taken_on": "2026-07-20",
        "view": "zanca",
        "posture": "upright",
        "calibration": "marker",
        "shows_both_sides": True,
        **changes,
    }


def measured(film_id: int, **changes: Any) -> dict[str, Any]:
    return {
        "film": film_id,
        "ccd_injured_mm": "9.4",
        "ccd_other_mm": "8.8",
        "union": "partial",
        "hardware": "intact",
        **changes,
    }


def test_a_film_is_recorded_and_read_back(api: Program) -> None:
    row = builders.procedure()
    answer = api.post(FILMS, film(row.injury))
    assert (answer.status_code, answer["ETag"]) == (201, '"1"')
    shown = api.get(f"{FILMS}{answer.json()['id']}/").json()
    assert (shown["view"], shown["patient"]) == ("zanca", row.injury.patient.key)


def test_a_film_before_the_injury_or_to_come_is_refused(api: Program) -> None:
    hurt = builders.injury()
    answer = api.post(FILMS, film(hurt, taken_on="2026-05-01"))
    assert "before the injury" in answer.json()["faults"]["taken_on"][0]
    answer = api.post(FILMS, film(hurt, taken_on="2027-05-01"))
    assert "in the future" in answer.json()["faults"]["taken_on"][0]
    assert not Film.objects.exists()


def test_a_reading_is_recorded_as_its_readers(api: Program) -> None:
    row = api.post(FILMS, film(builders.procedure().injury)).json()
    answer = api.post(READINGS, measured(row["id"]))
    assert (answer.status_code, answer["ETag"]) == (201, '"1"')
    body = answer.json()
    assert (body["reader"], body["read_on"]) == ("selma", "2026-11-25")
    assert (body["ccd_injured_mm"], body["superseded_by"]) == ("9.4", None)


def test_millimetres_need_a_calibrated_film(api: Program) -> None:
    row = api.post(FILMS, film(builders.procedure().injury, calibration="none")).json()
    answer = api.post(READINGS, measured(row["id"]))
    assert "not calibrated" in answer.json()["faults"]["ccd_injured_mm"][0]
    assert not Reading.objects.exists()


def test_an_unusual_length_is_asked_about_once(api: Program) -> None:
    row = api.post(FILMS, film(builders.procedure().injury)).json()
    sent = measured(row["id"], ccd_injured_mm="41.0")
    assert "unusual" in api.post(READINGS, sent).json()["faults"]["ccd_injured_mm"][0]
    answer = api.post(READINGS, {**sent, "checked": True})
    assert answer.json()["flags"] == ["ccd_injured_mm"]


def test_a_second_reading_by_the_same_reader_is_a_correction_or_nothing(api: Program) -> None:
    row = api.post(FILMS, film(builders.procedure().injury)).json()
    first = api.post(READINGS, measured(row["id"])).json()
    answer = api.post(READINGS, measured(row["id"]))
    assert (answer.status_code, answer.json()["reading"]) == (409, first["id"])
    assert Reading.objects.count() == 1


def test_a_correction_is_a_new_reading_that_keeps_the_old_one(api: Program) -> None:
    row = api.post(FILMS, film(builders.procedure().injury)).json()
    first = api.post(READINGS, measured(row["id"])).json()
    url = f"{READINGS}{first['id']}/correct/"
    assert api.post(url, {"ccd_injured_mm": "9.9"}).status_code == 428
    answer = api.act(url, {"ccd_injured_mm": "9.9"})
    assert answer.status_code == 201
    new = answer.json()
    assert (new["ccd_injured_mm"], new["ccd_other_mm"], new["union"]) == ("9.9", "8.8", "partial")
    old = api.get(f"{READINGS}{first['id']}/").json()
    assert (old["superseded_by"], old["ccd_injured_mm"]) == (new["id"], "9.4")
    assert api.act(url, {"ccd_injured_mm": "9.0"}).status_code == 412
    answer = api.act(url, {"ccd_injured_mm": "9.0"}, version=old["version"])
    assert answer.status_code == 409
    assert api.patch(f"{READINGS}{first['id']}/", {}).status_code == 405


BROKEN = {"kind": "screw_broken", "state": "present", "grade": None, "place": "lateral"}
WHOLE = {"kind": "plate_broken", "state": "absent", "grade": None, "place": ""}


def test_findings_are_given_and_read_with_their_reading(api: Program) -> None:
    row = api.post(FILMS, film(builders.procedure().injury)).json()
    sent = measured(row["id"], hardware="broken", cortices_bridged=2, fracture_line="visible")
    plain = {"kind": "plate_broken", "state": "absent"}
    answer = api.post(READINGS, {**sent, "findings": [BROKEN, plain]})
    assert answer.status_code == 201, answer.content
    assert answer.json()["findings"] == [BROKEN, WHOLE]
    shown = api.get(f"{READINGS}{answer.json()['id']}/").json()
    assert (shown["findings"], shown["cortices_bridged"]) == ([BROKEN, WHOLE], 2)
    url = f"{READINGS}{shown['id']}/correct/"
    kept = api.act(url, {"ccd_injured_mm": "9.9"}).json()
    assert (kept["findings"], kept["fracture_line"]) == ([BROKEN, WHOLE], "visible")
    url = f"{READINGS}{kept['id']}/correct/"
    now = api.act(url, {"findings": [], "hardware": "intact"}).json()
    assert (now["findings"], now["hardware"]) == ([], "intact")


def test_hardware_left_out_follows_from_the_findings_and_must_not_contradict_them(
    api: Program,
) -> None:
    row = api.post(FILMS, film(builders.procedure().injury)).json()
    answer = api.post(READINGS, measured(row["id"], findings=[BROKEN]))
    assert "Choose 'broken'" in answer.json()["faults"]["hardware"][0]
    sent = measured(row["id"], findings=[BROKEN])
    del sent["hardware"]
    assert api.post(READINGS, sent).json()["hardware"] == "broken"


@pytest.mark.parametrize(
    ("finding", "words"),
    [
        ({"kind": "acromial_erosion", "state": "present"}, "needs its grade"),
        ({"kind": "screw_bent", "state": "present"}, "not a valid choice"),
        ({"kind": "plate_broken", "state": "absent", "sure": True}, "There is no such field"),
        ({"kind": "plate_broken"}, "required"),
    ],
)
def test_a_finding_that_cannot_be_is_refused_in_words(
    api: Program, finding: dict[str, Any], words: str
) -> None:
    row = api.post(FILMS, film(builders.procedure().injury)).json()
    answer = api.post(READINGS, measured(row["id"], findings=[finding]))
    assert answer.status_code == 400
    assert words in str(answer.json()["faults"])
    assert not Reading.objects.exists()


def test_nobody_corrects_anothers_reading(api: Program) -> None:
    row = reading(operation(), 40, "9.0")
    answer = api.act(f"{READINGS}{row.pk}/correct/", {"ccd_injured_mm": "1.0"})
    assert answer.status_code == 403
    assert "Only its reader" in answer.json()["detail"]


def test_a_film_reader_measures_blind(api: Program, film_reader: Person) -> None:
    row = reading(operation(), 40, "9.0")
    reader = signed_in(film_reader)
    assert reader.get(READINGS).json()["count"] == 0
    assert reader.get(f"{READINGS}{row.pk}/").status_code == 404
    assert api.get(READINGS).json()["count"] == 1
    answer = reader.post(READINGS, measured(row.film_id, blind=True))
    assert (answer.status_code, answer.json()["blind"]) == (201, True)
    assert reader.get(READINGS).json()["count"] == 1
    assert api.get(READINGS).json()["count"] == 2


def test_a_film_reader_adds_no_film_and_a_coordinator_sees_none(
    film_reader: Person, coordinator: Person
) -> None:
    hurt = builders.injury()
    assert signed_in(film_reader).post(FILMS, film(hurt)).status_code == 403
    assert signed_in(coordinator).get(FILMS).status_code == 403
    assert signed_in(coordinator).get(READINGS).status_code == 403


def test_films_of_another_site_are_not_there(api: Program) -> None:
    theirs = reading(operation("south"), 40, "9.0")
    assert api.get(f"{FILMS}{theirs.film_id}/").status_code == 404
    assert api.get(f"{READINGS}{theirs.pk}/").status_code == 404
    assert "film" in api.post(READINGS, measured(theirs.film_id)).json()["faults"]
    assert "injury" in api.post(FILMS, film(theirs.film.injury)).json()["faults"]


def test_films_and_readings_are_filtered(api: Program) -> None:
    one = reading(operation(), 40, "9.0", union="united")
    reading(operation(), 90, "9.0", film={"view": "ap"})

    def found(url: str, **wanted: Any) -> int:
        return int(api.get(url, wanted).json()["count"])

    key = one.film.injury.patient.key
    assert (found(FILMS), found(FILMS, patient=key), found(FILMS, view="ap")) == (2, 1, 1)
    assert found(FILMS, taken_to="2025-07-31") == 1
    assert (found(READINGS, union="united"), found(READINGS, film=one.film_id)) == (1, 1)
    assert found(READINGS, injury=one.film.injury_id, patient=key, current="true") == 1
    assert found(READINGS, current="false") == 0
    assert found(READINGS, taken_from="2025-08-01") == 1


@pytest.mark.parametrize("url", [FILMS, READINGS])
def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, url: str, counted: Callable[[], Any]
) -> None:
    reading(operation(), 40, "9.0")
    few = cost(api, url, counted)
    for _ in range(12):
        reading(operation(), 40, "9.0")
    assert cost(api, url, counted) == few
