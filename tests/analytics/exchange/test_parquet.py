import numpy as np
import pandas as pd
import pytest

from analytics.exchange import parquet


def frame(**changes: object) -> pd.DataFrame:
    columns = {
        "text": pd.array(["b", None, "ä"], dtype="str"),
        "code": pd.Categorical(["x", None, "y"]),
        "day": pd.to_datetime(["2026-01-02", None, "1999-12-31"]).astype("datetime64[ns]"),
        "number": [1.5, np.nan, -0.0],
        "gaps": pd.array([1, None, 3], dtype="Int64"),
        "whole": [1, 2, 3],
        "flag": [True, False, True],
        "maybe": pd.array([True, None, False], dtype="boolean"),
        **changes,
    }
    return pd.DataFrame(columns, index=pd.Index([7, 8, 9], name="procedure_id"))


@pytest.mark.parametrize("rows", [3, 1, 0])
def test_a_frame_comes_back_as_it_was(rows: int) -> None:
    one = frame().iloc[:rows]
    one["code"] = one["code"].cat.remove_unused_categories()
    pd.testing.assert_frame_equal(parquet.unpacked(parquet.packed(one)), one)


def test_equal_frames_give_equal_bytes_and_one_hash() -> None:
    assert parquet.packed(frame()) == parquet.packed(frame())
    assert parquet.fingerprint(frame()) == parquet.fingerprint(frame())
    back = parquet.unpacked(parquet.packed(frame()))
    assert parquet.fingerprint(back) == parquet.fingerprint(frame())


def test_the_hash_of_a_known_frame_never_changes() -> None:
    assert parquet.fingerprint(frame()) == (
        "c4e80c6e69eb3ba351dec8df3d748d5f8d18ce48bf138628f8646f7adccf153c"
    )


@pytest.mark.parametrize(
    "changes",
    [
        {"text": ["b", None, "a"]},
        {"text": ["b", "", "ä"]},
        {"code": pd.Categorical(["x", "x", "y"])},
        {"number": [1.5, 0.0, -0.0]},
        {"gaps": pd.array([1, 0, 3], dtype="Int64")},
        {"whole": [1, 2, 4]},
        {"flag": [True, True, True]},
        {"maybe": pd.array([True, False, False], dtype="boolean")},
        {"more": [1, 2, 3]},
    ],
)
def test_any_change_changes_the_hash(changes: dict[str, object]) -> None:
    assert parquet.fingerprint(frame(**changes)) != parquet.fingerprint(frame())


def test_other_rows_another_order_and_another_index_change_the_hash() -> None:
    hashes = {
        parquet.fingerprint(one)
        for one in (frame(), frame().iloc[:2], frame().iloc[::-1], frame().set_axis([1, 2, 3]))
    }
    assert len(hashes) == 4


def test_how_words_are_stored_and_how_zero_is_signed_does_not_count() -> None:
    as_codes = frame(text=pd.Categorical(["b", None, "ä"]), number=[1.5, np.nan, 0.0])
    assert parquet.fingerprint(as_codes) == parquet.fingerprint(frame())
    other_codes = frame(code=pd.Categorical(["x", None, "y"], ["y", "z", "x"]))
    assert parquet.fingerprint(other_codes) == parquet.fingerprint(frame())
