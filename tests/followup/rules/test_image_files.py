import pytest

from followup.rules.image_files import ImageRefused, Limits, hold_bytes, hold_size, kind_of


@pytest.mark.parametrize(
    ("start", "kind"),
    [
        (b"\x00" * 128 + b"DICM", "dicom"),
        # A DICOM file may begin as another: what stands in its preamble does not count.
        (b"II*\x00" + b"\x00" * 124 + b"DICM", "dicom"),
        (b"\x89PNG\r\n\x1a\n....", "png"),
        (b"\xff\xd8\xff\xe0....", "jpeg"),
    ],
)
def test_the_kind_is_told_by_the_content(start: bytes, kind: str) -> None:
    assert kind_of(start) == kind


@pytest.mark.parametrize(
    ("start", "said"),
    [
        (b"", "empty"),
        (b"%PDF-1.7", "PDF"),
        (b"PK\x03\x04", "unpack"),
        (b"GIF89a", "GIF"),
        (b"II*\x00", "TIFF"),
        (b"<svg", "drawing"),
        (b"hello", "neither DICOM nor PNG nor JPEG"),
    ],
)
def test_another_file_is_refused_with_what_to_do(start: bytes, said: str) -> None:
    with pytest.raises(ImageRefused, match=said):
        kind_of(start)


def test_a_file_is_held_to_its_bytes() -> None:
    hold_bytes(100, Limits(most_bytes=100))
    with pytest.raises(ImageRefused, match="Send single films"):
        hold_bytes(101, Limits(most_bytes=100))


def test_an_image_is_held_to_its_pixels_and_frames() -> None:
    limits = Limits(most_pixels=100, most_frames=5, most_pixels_in_all=300)
    hold_size(10, 10, 3, limits)
    for rows, columns, frames in ((11, 10, 1), (10, 10, 4), (1, 1, 6), (0, 10, 1), (10, 10, 0)):
        with pytest.raises(ImageRefused):
            hold_size(rows, columns, frames, limits)
