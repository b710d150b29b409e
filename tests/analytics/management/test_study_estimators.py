import io

import pytest
from django.core.management import CommandError, call_command


def printed(**given: object) -> str:
    out = io.StringIO()
    call_command("study_estimators", stdout=out, **given)
    return out.getvalue()


def test_the_study_prints_bias_and_coverage_of_each_size_by_day() -> None:
    lines = printed(replicates=2, sizes=[30, 40], seed=3).splitlines()
    assert lines[0].startswith(
        "| estimate | of losses | day | truth | n = 30: bias | n = 30: coverage"
    )
    assert set(lines[1]) == {"|", "-"}
    # Four estimates on six days.
    assert len(lines) == 2 + 4 * 6
    assert all(line.count("|") == lines[0].count("|") for line in lines)
    assert "| between films | with other events in the way | 731 | 14.2 |" in lines[-1]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"loss": 1.5}, "--loss: 1.5 is no share"),
        ({"competing": 0.0}, "--competing: 0 is no share"),
        ({"replicates": 0}, "whole numbers from 1 on"),
        ({"sizes": [0]}, "whole numbers from 1 on"),
    ],
)
def test_a_study_that_cannot_be_is_refused(given: dict[str, object], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        printed(**given)
