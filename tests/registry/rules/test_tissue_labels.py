"""Labels of human tissue beyond the published ones."""

from datetime import date

import pytest

from registry.rules import tissue_labels
from registry.rules.labels import LabelRefused

PRODUCT = "=/A9999XYZ100T0944"


def test_a_graft_without_batch_is_read() -> None:
    label = tissue_labels.read(f"{PRODUCT}=<T0944000&>0263652359")
    assert (label.batch, label.serial) == ("", "")
    assert label.others == (("product_code", "T0944000"), ("expires_at", "0263652359"))


def test_a_moment_says_the_day_where_no_day_stands_alone() -> None:
    label = tissue_labels.read(f"{PRODUCT}&>0263652359&}}0250320830")
    assert (label.expires_on, label.made_on) == (date(2026, 12, 31), date(2025, 2, 1))
    label = tissue_labels.read(f"{PRODUCT}&>0263652359=>026364")
    assert label.expires_on == date(2026, 12, 30)
    with pytest.raises(LabelRefused, match="day 366 of 2026"):
        tissue_labels.read(f"{PRODUCT}&>0263662359")


def test_the_century_is_its_own_digit() -> None:
    old = tissue_labels.read(f"{PRODUCT}=}}998365")
    assert old.made_on is not None
    assert old.made_on.isoformat() == "1998-12-31"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (f"{PRODUCT}=>026366", "day 366 of 2026"),
        (f"{PRODUCT}=>026001=>026002", "two things"),
        (f"{PRODUCT}#", "nothing that a label of human tissue"),
        ("=/A999", "another form"),
        ("=+06000", "says nothing of a graft"),
    ],
)
def test_what_has_another_form_is_refused(text: str, words: str) -> None:
    with pytest.raises(LabelRefused, match=words):
        tissue_labels.read(text)
