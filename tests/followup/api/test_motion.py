"""Motion exams over the interface."""

from collections.abc import Callable
from typing import Any

import pytest

from followup.models import MotionExam
from registry.models import Injury, Person
from tests import builders
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.django_db
URL = "/api/v1/motion-exams/"


@pytest.fixture
def api(surgeon: Person) -> Program:
    return signed_in(surgeon)


def exam(injury: Injury, **changes: Any) -> dict[str, Any]:
    return {
        "injury": injury.pk,
        "examined_on": "2026-07-20",
        "side": "left",
        "flexion_deg": 120,
        "abduction_deg": 100,
        **changes,
    }


def test_an_exam_is_recorded_and_read_back(api: Program) -> None:
    hurt = builders.injury()
    answer = api.post(URL, exam(hurt, missing={"external_rotation_deg": "not_done"}))
    assert (answer.status_code, answer["ETag"]) == (201, '"1"')
    shown = api.get(f"{URL}{answer.json()['id']}/").json()
    assert (shown["flexion_deg"], shown["mode"], shown["patient"]) == (
        120,
        "active",
        hurt.patient.key,
    )
    assert shown["missing"] == {"external_rotation_deg": "not_done"}


def test_the_same_exam_again_is_a_correction_or_nothing(api: Program) -> None:
    hurt = builders.injury()
    first = api.post(URL, exam(hurt)).json()
    answer = api.post(URL, exam(hurt, flexion_deg=90))
    assert (answer.status_code, answer.json()["motion_exam"]) == (409, first["id"])
    assert api.post(URL, exam(hurt, mode="passive")).status_code == 201
    assert api.post(URL, exam(hurt, side="right")).status_code == 201
    assert MotionExam.objects.get(pk=first["id"]).flexion_deg == 120


def test_an_exam_is_corrected_over_its_version_and_keeps_the_rest(api: Program) -> None:
    url = f"{URL}{api.post(URL, exam(builders.injury())).json()['id']}/"
    assert api.patch(url, {"flexion_deg": 130}).status_code == 428
    answer = api.change(url, {"flexion_deg": 130})
    assert (answer.status_code, answer["ETag"]) == (200, '"2"')
    assert (answer.json()["flexion_deg"], answer.json()["abduction_deg"]) == (130, 100)
    assert api.change(url, {"flexion_deg": 140}).status_code == 412
    answer = api.change(url, {"side": "right"}, version=2)
    assert "stays" in answer.json()["faults"]["side"][0]


def test_impossible_and_unusual_angles(api: Program) -> None:
    hurt = builders.injury()
    answer = api.post(URL, exam(hurt, flexion_deg=200))
    assert "not possible" in answer.json()["faults"]["flexion_deg"][0]
    answer = api.post(URL, exam(hurt, flexion_deg=5))
    assert "unusual" in answer.json()["faults"]["flexion_deg"][0]
    assert api.post(URL, exam(hurt, flexion_deg=5, checked=True)).json()["flags"] == ["flexion_deg"]


def test_an_exam_before_the_injury_is_refused(api: Program) -> None:
    answer = api.post(URL, exam(builders.injury(), examined_on="2026-01-01"))
    assert "before the injury" in answer.json()["faults"]["examined_on"][0]


def test_who_sees_may_not_always_write(coordinator: Person, quality_lead: Person) -> None:
    hurt = builders.injury()
    assert signed_in(coordinator).get(URL).status_code == 200
    assert signed_in(coordinator).post(URL, exam(hurt)).status_code == 403
    assert signed_in(quality_lead).get(URL).status_code == 403


def test_another_sites_exam_is_not_there(api: Program) -> None:
    somebody = builders.person("sol", south="surgeon")
    theirs = builders.injury(builders.patient(at=builders.site("south")))
    row = signed_in(somebody).post(URL, exam(theirs)).json()
    assert api.get(f"{URL}{row['id']}/").status_code == 404
    assert api.change(f"{URL}{row['id']}/", {}).status_code == 404
    assert "injury" in api.post(URL, exam(theirs)).json()["faults"]


def test_who_sees_at_a_site_but_may_not_write_there_is_refused(api: Program) -> None:
    hurt = builders.injury()
    row = api.post(URL, exam(hurt)).json()
    both = builders.person("both", north="coordinator", south="surgeon")
    answer = signed_in(both).change(f"{URL}{row['id']}/", {"flexion_deg": 1})
    assert answer.status_code == 403


def test_a_wrong_exam_is_voided(api: Program) -> None:
    row = api.post(URL, exam(builders.injury())).json()
    url = f"{URL}{row['id']}/void/"
    assert api.post(url, {"reason": "wrong patient"}).status_code == 428
    assert api.act(url, {"reason": "wrong patient"}).status_code == 204
    assert api.get(URL).json()["count"] == 0


def test_exams_are_filtered(api: Program) -> None:
    hurt = builders.injury()
    api.post(URL, exam(hurt))
    api.post(URL, exam(builders.injury(), side="right", mode="passive"))

    def found(**wanted: Any) -> int:
        return int(api.get(URL, wanted).json()["count"])

    assert (found(), found(injury=hurt.pk), found(patient=hurt.patient.key)) == (2, 1, 1)
    assert (found(side="right"), found(mode="passive")) == (1, 1)
    assert (found(examined_from="2026-07-21"), found(examined_to="2026-07-20")) == (0, 2)


def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    api.post(URL, exam(builders.injury()))
    few = cost(api, URL, counted)
    for _ in range(12):
        api.post(URL, exam(builders.injury()))
    assert cost(api, URL, counted) == few
