from registry.rules.fhir import bundles, queries
from tests.fhir import valid

BASE = "https://here.example/fhir/r4"
ONE = {"resourceType": "Patient", "id": "K"}


def test_a_page_links_to_itself_and_onward() -> None:
    query = queries.parse([("code", "a b"), ("_count", "1")], {"code": "token"})
    bundle = valid(bundles.search_set(BASE, "Patient", query, [ONE], total=2, onward="NEXT"))
    links = {one["relation"]: one["url"] for one in bundle["link"]}
    assert links["self"] == f"{BASE}/Patient?code=a%20b&_count=1"
    assert links["next"] == f"{BASE}/Patient?code=a%20b&_count=1&_page=NEXT"
    assert bundle["entry"][0]["fullUrl"] == f"{BASE}/Patient/K"
    assert bundle["total"] == 2


def test_the_last_page_has_no_next_and_an_empty_one_a_total_of_zero() -> None:
    query = queries.parse([], {})
    bundle = valid(bundles.search_set(BASE, "Patient", query, [], total=0, onward=""))
    assert [one["relation"] for one in bundle["link"]] == ["self"]
    assert bundle["total"] == 0
    assert "entry" not in bundle


def test_what_was_passed_over_stands_among_the_entries() -> None:
    query = queries.parse([("colour", "red")], {})
    bundle = valid(bundles.search_set(BASE, "Patient", query, [ONE], total=1, onward=""))
    assert [one["search"]["mode"] for one in bundle["entry"]] == ["match", "outcome"]


def test_a_tag_is_weak_and_an_address_without_query_is_bare() -> None:
    assert bundles.etag("3") == 'W/"3"'
    assert bundles.link(BASE, "Patient", []) == f"{BASE}/Patient"


def test_what_came_in_a_form_is_turned_over_by_the_form() -> None:
    query = queries.parse([("family", "Quill")], {"family": "string"})
    made = bundles.search_set(BASE, "Patient", query, [ONE], total=2, onward="N", in_form=True)
    bundle = valid(made)
    assert [one["relation"] for one in bundle["link"]] == ["self"]
    told = bundle["entry"][1]["resource"]["issue"][0]["diagnostics"]
    assert "same form again with _page=N" in told
