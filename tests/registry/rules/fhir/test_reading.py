from time import process_time

from registry.rules.fhir.reading import MOST_IN_A_LIST, Node, unbearable, unread

GIVEN = {
    "code": {"coding": [{"system": "a", "code": "1"}, {"system": "b", "code": "2"}]},
    "note": [{"text": "x"}],
    "language": "en",
}


def test_what_is_read_is_not_told_and_the_rest_is_told_once() -> None:
    node = Node.of(GIVEN, "Condition")
    first = node.child("code").child("coding", 0)
    assert (first.text("system"), first.text("code")) == ("a", "1")
    told = unread(node)
    assert [one.expression for one in told] == [
        "Condition.code.coding[1]",
        "Condition.note",
        "Condition.language",
    ]
    assert {one.severity for one in told} == {"warning"}


def test_reading_a_whole_element_reads_all_below() -> None:
    node = Node.of(GIVEN, "Condition")
    for name in GIVEN:
        node.child(name).read()
    assert unread(node) == []


def test_what_is_not_there_is_empty_at_any_depth() -> None:
    node = Node.of({"code": "plain"}, "X")
    assert not node.child("code").child("coding", 3).child("code")
    assert node.text("nothing") == ""
    assert list(node.each("code")) == []


def test_what_is_wrong_is_noted_with_its_place() -> None:
    node = Node.of(GIVEN, "Condition")
    node.child("note", 0).wrong("value", "too long", "text")
    (issue,) = node.issues
    assert (issue.expression, issue.words) == ("Condition.note[0].text", "too long")


def test_what_is_no_list_or_object_is_told_once_at_its_own_place() -> None:
    for plain in ("a long word", 5):
        node = Node.of({"code": plain}, "X")
        node.child("code").text("coding")
        assert [one.expression for one in unread(node)] == ["X.code"]


def test_a_long_resource_costs_by_its_length() -> None:
    node = Node.of({"identifier": [{"system": "a", "value": "1"}] * 20_000}, "X")
    for one in node.each("identifier"):
        one.text("value")
    began = process_time()
    assert len(unread(node)) == 20_000
    # By its square it took minutes; a slow machine takes far less than this.
    assert process_time() - began < 10


def test_lists_that_are_too_long_and_the_sign_nul_are_refused_by_their_places() -> None:
    most = [{"value": "1"}] * MOST_IN_A_LIST
    assert unbearable({"identifier": most}, "X") == []
    (told,) = unbearable({"identifier": [*most, {}]}, "X")
    assert (told.code, told.expression) == ("too-long", "X.identifier")
    assert "51 of these; at most 50" in told.words
    (told,) = unbearable({"name": [{"given": ["A\x00"]}]}, "X")
    assert told.expression == "X.name[0].given[0]"
