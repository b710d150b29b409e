"""Labels of human tissue beyond the published ones."""

import pytest

from registry.rules import tissue_labels
from registry.rules.labels import LabelRefused

PRODUCT = "=/A9999XYZ100T0944"


def test_a_graft_without_batch_is_read() -> None:
    label = tissue_labels.read(f"{PRODUCT}=<T0944000&>0263652359")
    assert (label.batch, label.serial, label.expires_on) == ("", "", None)
    assert label.others == (("product_code", "T0944000"), ("expires_at", "0263652359"))


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
