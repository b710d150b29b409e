"""Symbols of labels drawn for a camera or a photo: real GS1 symbols, with FNC1 in them."""

from pathlib import Path

import zxingcpp
from PIL import Image, ImageOps

WIDE, HIGH = 1280, 720


def symbol(text: str, kind: str, *, scale: int = 6) -> Image.Image:
    """Return a GS1 Data Matrix or GS1-128 of bracketed text, with a quiet zone around it."""
    formats = {
        "data_matrix": zxingcpp.BarcodeFormat.DataMatrix,
        "code_128": zxingcpp.BarcodeFormat.Code128,
    }
    drawn = zxingcpp.create_barcode(text, formats[kind], gs1=True)
    return ImageOps.expand(Image.fromarray(drawn.to_image(scale=scale)), 40, fill=255)


def picture(*symbols: Image.Image) -> Image.Image:
    """Return a photo-like picture with some symbols under each other, a little turned."""
    sheet = Image.new("L", (WIDE, HIGH), 210)
    top = 20
    for one in symbols:
        sheet.paste(one, (60, top))
        top += one.height + 10
    return sheet.rotate(1.5, fillcolor=210, resample=Image.Resampling.BILINEAR)


def film(path: Path, sheet: Image.Image, *, frames: int = 5) -> Path:
    """Write a picture as a film that a browser takes for a camera (YUV4MPEG2)."""
    grey = sheet.tobytes()
    colour = bytes([128]) * (WIDE * HIGH // 2)
    with path.open("wb") as file:
        file.write(f"YUV4MPEG2 W{WIDE} H{HIGH} F5:1 Ip A1:1 C420jpeg\n".encode())
        for _ in range(frames):
            file.write(b"FRAME\n" + grey + colour)
    return path
