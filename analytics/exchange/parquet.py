"""Frames <-> Parquet, and a hash of what is in a frame that depends on nothing else."""

import hashlib
import io
import json
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq


def packed(frame: pd.DataFrame) -> bytes:
    """Write a frame with its kinds of columns and its index; equal frames give equal bytes."""
    sink = io.BytesIO()
    pq.write_table(pa.Table.from_pandas(frame), sink, compression="zstd")
    return sink.getvalue()


def unpacked(content: bytes) -> pd.DataFrame:
    """Read a frame that `packed` wrote."""
    table = pq.read_table(pa.BufferReader(content))
    frame: pd.DataFrame = table.to_pandas()
    for column in table.schema.pandas_metadata["columns"]:
        name = column["name"]
        # A column without a code in use forgets that its codes were text.
        if column["pandas_type"] == "categorical" and not frame[name].notna().any():
            frame[name] = frame[name].astype("str").astype("category")
    return frame


def fingerprint(frame: pd.DataFrame) -> str:
    """Return SHA-256 over the columns of a frame: their names, kinds and values, in their order.

    It depends neither on how a file is written nor on a library's version. Text and codes count
    alike, by their words; every missing number is the same.
    """
    content = hashlib.sha256()
    whole = frame.reset_index() if frame.index.name else frame
    for name in whole.columns:
        kind, parts = _canonical(whole[name])
        content.update(json.dumps([str(name), kind, len(whole)]).encode())
        for part in parts:
            content.update(part)
    return content.hexdigest()


def _canonical(values: "pd.Series[Any]") -> tuple[str, tuple[bytes, ...]]:
    kind = values.dtype
    if isinstance(kind, (pd.StringDtype, pd.CategoricalDtype)) or kind == np.dtype(object):
        codes, words = pd.factorize(values.astype("str"), sort=True)
        return "text", (codes.astype("<i4").tobytes(), json.dumps(list(words)).encode())
    if pd.api.types.is_datetime64_any_dtype(kind):
        return "day", (values.astype("datetime64[ns]").astype("int64").to_numpy("<i8").tobytes(),)
    if pd.api.types.is_float_dtype(kind):
        return "number", ((values + 0.0).to_numpy("<f8", na_value=float("nan")).tobytes(),)
    gaps = values.isna().to_numpy("u1").tobytes()
    whole = values.to_numpy("<i8", na_value=0) if values.hasnans else values.to_numpy("<i8")
    return "flag" if pd.api.types.is_bool_dtype(kind) else "whole", (gaps, whole.tobytes())
