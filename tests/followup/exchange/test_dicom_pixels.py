"""Unpacking, showing and painting frames; what scanners pack is packed here by gdcm."""

from io import BytesIO
from pathlib import Path
from typing import Any

import gdcm
import numpy as np
import pydicom
import pytest
from pydicom.pixels import pixel_array

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from followup.exchange import dicom_pixels
from followup.exchange.dicom_pixels import frame_of, paint, shown
from followup.exchange.image_examiner import look_into
from followup.rules.image_files import ImageRefused, Limits
from tests.followup.exchange.dicom_samples import sent, taken

FILM = shoulder_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0))
PACKINGS = {
    "JPEG lossless": gdcm.TransferSyntax.JPEGLosslessProcess14_1,
    "JPEG-LS": gdcm.TransferSyntax.JPEGLSLossless,
    "JPEG 2000": gdcm.TransferSyntax.JPEG2000Lossless,
}


def packed(folder: Path, packing: str) -> bytes:
    """Return the film as a scanner packs it."""
    plain, other = folder / "plain.dcm", folder / "packed.dcm"
    plain.write_bytes(FILM.dicom())
    reader = gdcm.ImageReader()
    reader.SetFileName(str(plain))
    assert reader.Read()
    change = gdcm.ImageChangeTransferSyntax()
    change.SetTransferSyntax(gdcm.TransferSyntax(PACKINGS[packing]))
    change.SetInput(reader.GetImage())
    assert change.Change()
    writer = gdcm.ImageWriter()
    writer.SetFileName(str(other))
    writer.SetFile(reader.GetFile())
    writer.SetImage(change.GetOutput())
    assert writer.Write()
    return other.read_bytes()


@pytest.mark.parametrize("packing", PACKINGS)
def test_what_scanners_pack_is_read_to_the_bit(tmp_path: Path, packing: str) -> None:
    content = packed(tmp_path, packing)
    assert len(content) < len(FILM.dicom())
    _, kept, _ = taken(content)
    assert (pixel_array(kept) == FILM.values).all()


@pytest.mark.parametrize("packing", ["JPEG lossless", "JPEG-LS"])
def test_without_the_extra_it_is_refused_and_said_what_is_lacking(
    tmp_path: Path, packing: str, monkeypatch: Any
) -> None:
    content = packed(tmp_path, packing)
    for name in ("gdcm", "pylibjpeg", "pyjpegls"):
        decoders = pydicom.pixels.decoders
        monkeypatch.setattr(getattr(decoders, name), "is_available", lambda uid: False)
    decoder = dicom_pixels.get_decoder(
        pydicom.dcmread(BytesIO(content)).file_meta.TransferSyntaxUID
    )
    monkeypatch.setattr(decoder, "_available", {})
    with pytest.raises(ImageRefused, match="'scanners' extra"):
        taken(content)


def test_a_film_of_16_bits_and_one_with_white_air_are_kept_to_the_bit() -> None:
    _, kept, _ = taken(FILM.dicom(bits=16))
    assert (pixel_array(kept) == FILM.values << 4).all()
    arrival, kept, whole = taken(FILM.dicom(photometric="MONOCHROME1"))
    header, frame = frame_of(BytesIO(whole), 1)
    ends = (arrival.levels.shown_low, arrival.levels.shown_high)
    turned = shown(header, frame, ends)
    plain_arrival, _, plain_whole = taken(FILM.dicom())
    plain = shown(
        *frame_of(BytesIO(plain_whole), 1),
        (plain_arrival.levels.shown_low, plain_arrival.levels.shown_high),
    )
    # Bones are bright in both.
    assert abs(turned.astype(int) - plain).max() <= 1


def test_every_frame_is_shown_by_its_number() -> None:
    arrival, kept, whole = taken(sent("examples_ybr_color.dcm"))
    assert arrival.facts.frames == 30
    assert kept.PhotometricInterpretation == "RGB"
    every = pixel_array(kept)
    original = pixel_array(pydicom.dcmread(BytesIO(sent("examples_ybr_color.dcm"))))
    assert (every == original).all()
    for number in (1, 17, 30):
        header, frame = frame_of(BytesIO(whole), number)
        assert (shown(header, frame, None) == every[number - 1]).all()


def test_a_palette_is_looked_up_once_and_for_all() -> None:
    _, kept, _ = taken(sent("examples_palette.dcm"))
    assert kept.PhotometricInterpretation == "RGB"
    assert pixel_array(kept).shape == (350, 800, 3)


def test_signed_values_keep_their_sign() -> None:
    arrival, kept, whole = taken(sent("CT_small.dcm"))
    original = pixel_array(pydicom.dcmread(BytesIO(sent("CT_small.dcm"))))
    assert (pixel_array(kept) == original).all()
    # The header's slope is 1 and its intercept -1024.
    assert (arrival.levels.least, arrival.levels.most) == (
        original.min() - 1024,
        original.max() - 1024,
    )
    header, frame = frame_of(BytesIO(whole), 1)
    grey = shown(header, frame, (arrival.levels.least, arrival.levels.most))
    assert (grey.min(), grey.max()) == (0, 255)


@pytest.mark.parametrize("name", ["CT_small.dcm", "SC_rgb_rle_2frame.dcm", "SC_rgb_small_odd.dcm"])
def test_a_box_is_painted_in_every_frame_and_nothing_else_changes(name: str) -> None:
    _, kept, whole = taken(sent(name))
    out = BytesIO()
    paint(BytesIO(whole), out, [(0, 1, 0, 3, 2)])
    again = pydicom.dcmread(BytesIO(out.getvalue()))
    before, after = pixel_array(kept), pixel_array(again)
    frames = (
        (before, after) if int(kept.get("NumberOfFrames", 1)) > 1 else (before[None], after[None])
    )
    outside = np.ones(frames[0].shape[1:3], dtype=bool)
    outside[0:2, 1:3] = False
    for was, now in zip(*frames, strict=True):
        assert (now[~outside] == was.min()).all()
        assert (now[outside] == was[outside]).all()


def test_a_box_can_be_of_one_frame_alone() -> None:
    _, kept, whole = taken(sent("SC_rgb_rle_2frame.dcm"))
    out = BytesIO()
    paint(BytesIO(whole), out, [(2, 0, 0, 100, 100)])
    after = pixel_array(pydicom.dcmread(BytesIO(out.getvalue())))
    assert (after[0] == pixel_array(kept)[0]).all()
    assert len(np.unique(after[1])) == 1


def test_a_header_that_claims_more_than_is_opened_is_refused_before_anything_is_unpacked() -> None:
    header = pydicom.dcmread(BytesIO(FILM.dicom()))
    header.Rows = header.Columns = 60_000
    written = BytesIO()
    header.save_as(written, enforce_file_format=True)
    with pytest.raises(ImageRefused, match="60000 by 60000"):
        look_into(BytesIO(written.getvalue()), BytesIO(), Limits())
