from datetime import date, timedelta
from typing import Any

import pytest
from knox.models import AuthToken

from followup.models import Review
from followup.services import motion
from registry.models import AuditEntry, Patient, Person, Procedure
from tests import api, builders, many, world
from tests.api import Program
from tests.builders import NOW, TODAY
from tests.fhir import valid

pytestmark = pytest.mark.django_db


@pytest.fixture
def selma(surgeon: Person) -> Program:
    return api.signed_in(surgeon)


@pytest.fixture
def operation() -> Procedure:
    return builders.procedure()


def bundle(program: Program, url: str, **headers: str) -> dict[str, Any]:
    answer = program.get(f"/fhir/r4/{url}", headers=headers or None)
    assert answer.status_code == 200, answer.content
    return valid(answer.json())


def exam(operation: Procedure, **values: Any) -> Any:
    given = {"examined_on": date(2026, 7, 17), "side": "left", "mode": "active", **values}
    return motion.record_motion(
        injury=operation.injury, values=given, by=operation.recorded_by, now=NOW, today=TODAY
    )


def test_what_the_server_can_do_is_told_to_anybody_and_is_what_it_does(selma: Program) -> None:
    told = valid(Program().get("/fhir/r4/metadata").json())
    (rest,) = told["rest"]
    for one in rest["resource"]:
        assert selma.get(f"/fhir/r4/{one['type']}").status_code == 200
        for param in one["searchParam"]:
            value = {"date": "2026"}.get(param["type"], "x")
            strict = {"Prefer": "handling=strict"}
            answer = selma.get(f"/fhir/r4/{one['type']}?{param['name']}={value}", headers=strict)
            assert answer.status_code == 200, (one["type"], param, answer.content)


def test_what_could_not_be_had_is_found_by_the_day_that_it_tells(
    defaults: None, selma: Program, operation: Procedure
) -> None:
    review = operation.reviews.order_by("due_on").first()
    assert review is not None
    attended = review.due_on + timedelta(days=3)
    Review.objects.filter(pk=review.pk).update(
        state="attended", attended_on=attended, not_obtainable={"motion": "not done"}
    )
    url = f"Observation?_id=not-obtained-{review.pk}&date="
    (one,) = bundle(selma, f"{url}{attended}")["entry"]
    assert one["resource"]["effectiveDateTime"] == attended.isoformat()
    assert "entry" not in bundle(selma, f"{url}{review.due_on}")


def test_what_is_told_as_last_updated_finds_it_again(selma: Program, operation: Procedure) -> None:
    (one,) = bundle(selma, "Procedure")["entry"]
    changed = one["resource"]["meta"]["lastUpdated"]
    assert len(bundle(selma, f"Procedure?_lastUpdated={changed}")["entry"]) == 1


def test_a_program_with_a_token_sees_its_persons_sites_alone(surgeon: Person) -> None:
    mine = builders.injury()
    theirs = builders.injury(builders.patient(builders.site("south")))
    _, token = AuthToken.objects.create(user=surgeon)
    program = Program()
    program.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    found = bundle(program, "Condition")
    assert [one["resource"]["id"] for one in found["entry"]] == [str(mine.pk)]
    assert program.get(f"/fhir/r4/Condition/{theirs.pk}").status_code == 404
    program.credentials(HTTP_AUTHORIZATION="Token nobodys")
    assert program.get("/fhir/r4/Condition").status_code == 401


def test_a_resource_has_its_tag_and_is_not_sent_twice(selma: Program, operation: Procedure) -> None:
    answer = selma.get(f"/fhir/r4/Procedure/{operation.pk}")
    assert valid(answer.json())["meta"]["versionId"] == "1"
    assert answer["ETag"] == 'W/"1"'
    assert answer["Last-Modified"] == "Wed, 25 Nov 2026 09:00:00 GMT"
    again = selma.get(
        f"/fhir/r4/Procedure/{operation.pk}", headers={"If-None-Match": 'W/"0", W/"1"'}
    )
    assert (again.status_code, again.content) == (304, b"")


def test_pages_are_followed_by_their_links(selma: Program, operation: Procedure) -> None:
    for day in range(1, 6):
        exam(operation, examined_on=date(2026, 7, day), flexion_deg=90)
    page = bundle(selma, "Observation?code=flexion&_count=2")
    seen = []
    assert page["total"] == 5
    while True:
        seen += [one["resource"]["id"] for one in page["entry"]]
        links = {one["relation"]: one["url"] for one in page["link"]}
        if "next" not in links:
            break
        page = valid(selma.get(links["next"]).json())
    assert len(seen) == len(set(seen)) == 5
    assert "_page=" in links["self"]


def test_an_unknown_parameter_is_ignored_or_refused_as_the_program_prefers(
    selma: Program, operation: Procedure
) -> None:
    found = bundle(selma, "Procedure?colour=red")
    assert found["link"][0]["url"].endswith("/Procedure")
    assert found["entry"][-1]["search"]["mode"] == "outcome"
    strict = {"Prefer": "handling=strict"}
    refused = selma.get("/fhir/r4/Procedure?colour=red", headers=strict)
    assert refused.status_code == 400
    assert valid(refused.json())["issue"][0]["expression"] == ["colour"]


def test_a_search_in_a_form_keeps_names_out_of_addresses(selma: Program) -> None:
    person = builders.patient(family_name="Quillfeather")
    answer = selma.post(
        "/fhir/r4/Patient/_search",
        "family=quill&_count=10",
        content_type="application/x-www-form-urlencoded",
    )
    (entry,) = valid(answer.json())["entry"]
    assert entry["resource"]["id"] == person.key


def test_a_form_that_names_a_person_is_turned_over_by_the_form(selma: Program) -> None:
    people = [builders.patient(family_name="Quillfeather") for _ in range(2)]
    form = {"content_type": "application/x-www-form-urlencoded"}
    first = selma.post("/fhir/r4/Patient/_search", "family=quill&_count=1", **form).json()
    assert [one["relation"] for one in valid(first)["link"]] == ["self"]
    found, remark = first["entry"]
    place = remark["resource"]["issue"][0]["diagnostics"].partition("_page=")[2].split()[0]
    body = f"family=quill&_count=1&_page={place}"
    (last,) = valid(selma.post("/fhir/r4/Patient/_search", body, **form).json())["entry"]
    keys = {one["resource"]["id"] for one in (found, last)}
    assert keys == {one.key for one in people}
    by_sex = selma.post("/fhir/r4/Patient/_search", "gender=female&_count=1", **form).json()
    assert "next" in {one["relation"] for one in by_sex["link"]}


@pytest.mark.parametrize("query", ["family=%00", "_id=%00", "%00=1", "gender=a%00"])
def test_the_sign_nul_in_a_search_is_refused(selma: Program, query: str) -> None:
    answer = selma.get(f"/fhir/r4/Patient?{query}")
    assert answer.status_code == 400
    assert "NUL" in valid(answer.json())["issue"][0]["diagnostics"]


def test_whose_names_were_shown_is_written_down(selma: Program, surgeon: Person) -> None:
    people = [builders.patient() for _ in range(3)]
    bundle(selma, "Patient")
    reads = AuditEntry.objects.filter(action="read", person_id=surgeon.pk, reason="fhir")
    (shown,) = reads
    assert shown.after == {"keys": sorted(one.key for one in people)}
    selma.get(f"/fhir/r4/Patient/{people[0].key}")
    assert reads.filter(row_id=str(people[0].pk)).count() == 1


def test_who_sees_no_names_gets_keys_and_leaves_no_mark_of_reading(quality_lead: Person) -> None:
    person = builders.patient(family_name="Quillfeather")
    program = api.signed_in(quality_lead)
    made = valid(program.get(f"/fhir/r4/Patient/{person.key}").json())
    assert made["meta"]["security"][0]["code"] == "MASKED"
    assert "Quillfeather" not in str(made)
    assert not AuditEntry.objects.filter(action="read").exists()
    assert bundle(program, "Patient?family=quill")["total"] == 0


@pytest.mark.parametrize(
    ("query", "number"),
    [
        ("Patient?birthdate=1980-05-17", 1),
        ("Patient?birthdate=lt1980", 0),
        ("Patient?gender=female", 1),
        ("Condition?code=lateral_clavicle&onset-date=2026-06", 1),
        ("Condition?verification-status=confirmed", 1),
        ("Condition?body-site=right", 0),
        ("Procedure?date=ge2026-06-05&date=le2026-06-05", 1),
        ("Procedure?status=not-done", 0),
        ("Procedure?code=fixation", 1),
        ("Device", 0),
        ("Observation?category=exam", 1),
        ("Observation?status=final,corrected", 1),
        ("Observation?date=2026-07-17", 1),
        ("Observation?code=nothing", 0),
    ],
)
def test_the_usual_parameters_find_what_they_say(
    selma: Program, operation: Procedure, query: str, number: int
) -> None:
    exam(operation, flexion_deg=90)
    key = operation.injury.patient.key
    assert bundle(selma, query)["total"] == number
    if not query.startswith("Patient"):
        joint = "&" if "?" in query else "?"
        for name in ("patient", "patient:Patient"):
            assert bundle(selma, f"{query}{joint}{name}={key}")["total"] == number
        assert bundle(selma, f"{query}{joint}patient=NOBODY")["total"] == 0


def test_a_merged_patient_is_read_by_the_old_key(selma: Program) -> None:
    kept, other = builders.patient(), builders.patient()
    Patient.objects.filter(pk=other.pk).update(merged_into=kept)
    made = valid(selma.get(f"/fhir/r4/Patient/{other.key}").json())
    assert made["link"][0]["type"] == "replaced-by"
    assert bundle(selma, "Patient")["total"] == 1


def test_a_code_system_is_read_by_its_name(selma: Program) -> None:
    made = valid(selma.get("/fhir/r4/CodeSystem/side").json())
    assert [one["code"] for one in made["concept"]] == ["left", "right"]
    assert selma.get("/fhir/r4/CodeSystem/nothing").status_code == 404


def test_a_page_costs_the_same_at_any_number_of_rows(defaults: None, counted: Any) -> None:
    things = world.one_of_each("north")
    program = api.signed_in(Person.objects.get(username="north_everything"))
    urls = [
        f"/fhir/r4/{one['type']}?_count=5"
        for one in Program().get("/fhir/r4/metadata").json()["rest"][0]["resource"]
    ]
    many.grow(things, 1, 10)
    few = {url: api.cost(program, url, counted) for url in urls}
    many.grow(things, 10, 120)
    more = {url: api.cost(program, url, counted) for url in urls}
    assert more == few
    assert max(few.values()) < 60
