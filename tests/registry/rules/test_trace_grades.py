import pytest

from registry.rules.trace_grades import GRADES, grade


@pytest.mark.parametrize(
    ("known", "expected"),
    [
        ({"device_identifier": "095", "batch": "L1", "catalogue_number": "P"}, "batch"),
        ({"device_identifier": "095", "serial": "S1"}, "batch"),
        ({"device_identifier": "095", "catalogue_number": "P"}, "identifier"),
        ({"catalogue_number": "P", "batch": "L1"}, "catalogue_batch"),
        ({"catalogue_number": "P"}, "catalogue"),
        ({"batch": "L1"}, "none"),
        ({"device_identifier": " "}, "none"),
    ],
)
def test_a_part_is_traced_as_far_as_its_label_was_recorded(
    known: dict[str, str], expected: str
) -> None:
    assert grade(**known) == expected
    assert expected in GRADES
