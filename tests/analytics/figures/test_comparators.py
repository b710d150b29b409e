import json
from typing import Any

from analytics.figures.comparators import comparators, drawing, rows_of, words
from analytics.figures.svg_forests import PUBLISHED
from analytics.figures.template import mark_for
from tests.analytics.answers.test_literature import ours
from tests.analytics.figures.sheets import faults, words_of

THREE: tuple[dict[str, Any], ...] = ({}, {"source": "B", "events": 5}, {"events": 2, "total": 30})


def test_ours_comes_first_in_its_colour_and_theirs_below_in_grey() -> None:
    rows = rows_of(ours(*THREE))
    assert [row.label for row in rows] == [
        "HP",
        "ours",
        "Author A 2017;2:7",
        "Author B 2019",
        "Author A 2017;2:7",
        "pooled",
    ]
    assert rows[1].mark == mark_for("HP", ["HP"])
    assert {row.mark for row in rows[2:5]} == {PUBLISHED}
    assert rows[5].further is not None


def test_every_line_has_its_count_and_never_a_bare_percentage() -> None:
    rows = [row for row in rows_of(ours(*THREE)) if row.estimate is not None]
    assert [row.counts for row in rows] == ["1/3", "3/20", "5/20", "2/30", "10/70"]
    assert all(row.low < row.high for row in rows)


def test_what_is_from_memory_or_inferred_is_marked_on_its_line() -> None:
    rows = rows_of(ours({"status": "memory"}, {"source": "B", "status": "inferred"}))
    labels = [row.label for row in rows]
    assert "Author A 2017;2:7 (memory)" in labels
    assert "Author B 2019 (inferred)" in labels


def test_on_paper_nothing_is_cut_and_nothing_overlaps() -> None:
    sheet = drawing(ours(*THREE, {"construct": ""}))
    assert faults(sheet) == []
    words = words_of(sheet)
    # The line of ours bears the construct's name, so that none is lost to a heading.
    assert words[0] == "HP: ours"
    assert "several constructs together: ours" in words


def test_the_figure_is_plain_and_has_a_line_for_each_row() -> None:
    figure = comparators(ours(*THREE))
    assert json.loads(json.dumps(figure)) == figure
    assert figure["layout"]["yaxis"]["ticktext"][:2] == ["<b>HP</b>", "ours  1/3"]
    markers = [trace for trace in figure["data"] if trace["mode"] == "markers"]
    assert len(markers) == 5
    assert sum(trace["mode"] == "lines" for trace in figure["data"]) == 1
    assert "not targets" in figure["layout"]["title"]["subtitle"]["text"].replace("<br>", " ")


def test_the_words_say_what_was_pooled_and_what_is_ours() -> None:
    said = words(ours(*THREE))
    assert said.startswith("Grey: published counts, no targets. HP: 3 series, 10 of 70")
    assert "nothing published" in words(ours({}, definition="union-film"))
