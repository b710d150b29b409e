"""Opening a file that somebody sent: in a process of its own, whose memory and time are bounded.

Whatever a hostile file does to the libraries that unpack it, it does to that process alone. The file
is its input and what is to be kept of it its output; what was learnt, or why it is refused, it says
in JSON where errors are written. The libraries themselves are heard in neither.
"""

import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any, BinaryIO, cast

from followup.exchange import dicom, dicom_pixels, pictures
from followup.exchange.burnt_writing import find_writing
from followup.exchange.dicom_pixels import Frames
from followup.rules.image_arrival import Arrival
from followup.rules.image_facts import ImageFacts
from followup.rules.image_files import START, ImageRefused, Limits, kind_of
from followup.rules.image_levels import Levels

ROOT = Path(__file__).resolve().parents[2]
MEGABYTE = 1024 * 1024
# Of the processor, and on the clock of a busy machine.
SECONDS, SECONDS_ON_THE_CLOCK = 60, 300
GIVEN = (
    "PATH",
    "LANG",
    "LC_ALL",
    "TMPDIR",
    "HOME",
    "OPENBLAS_NUM_THREADS",
    "PYTHONDONTWRITEBYTECODE",
)
GAVE_UP = (
    "Opening this file took more memory or time than any film needs, so it was put aside. It may be "
    "damaged: export the film again, and if that is refused too, export it as PNG."
)


def examine(source: BinaryIO, limits: Limits, memory_mb: int) -> tuple[Arrival, BinaryIO]:
    """Return what a file says and, open for reading, what is to be kept of it; the caller closes it.

    `source` is a file of the system, read from its start. Raises ImageRefused.
    """
    kept = cast("BinaryIO", TemporaryFile())  # noqa: SIM115 - closed by the caller
    try:
        source.seek(0)
        told = json.dumps([vars(limits), memory_mb])
        done = subprocess.run(  # noqa: S603 - our own program, with numbers of our own
            [sys.executable, "-m", __name__, told],
            stdin=source,
            stdout=kept,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            # A decoder that is taken over by a file finds no secret of the service.
            env={name: os.environ[name] for name in GIVEN if name in os.environ},
            timeout=SECONDS_ON_THE_CLOCK,
            check=False,
        )
        found = _said(done.stderr) if done.returncode == 0 else None
        kept.seek(0)
    except subprocess.TimeoutExpired:
        found = None
    except BaseException:
        kept.close()
        raise
    if found is None or "refused" in found:
        kept.close()
        raise ImageRefused(GAVE_UP if found is None else str(found["refused"]))
    return Arrival.from_json(found), kept


def look_into(source: BinaryIO, out: BinaryIO, limits: Limits) -> Arrival:
    """Write what is kept of a file to `out`; return what it says. Raises ImageRefused."""
    kind = kind_of(source.read(START))
    source.seek(0)
    return _dicom(source, out, limits) if kind == "dicom" else _picture(kind, source, out, limits)


def _dicom(source: BinaryIO, out: BinaryIO, limits: Limits) -> Arrival:
    header = dicom.read_header(source)
    frames = Frames(header, limits)
    kept = dicom.without_identity(header, frames)
    levels = frames.write(kept, out)
    view, posture = dicom.proposals_of(header)
    out.seek(0)
    header_kept, first = dicom_pixels.frame_of(out, 1)
    writing = find_writing(dicom_pixels.shown(header_kept, first, (levels.least, levels.most)))
    said = dicom.burnt_in_of(header)
    return Arrival(
        kind="dicom",
        facts=replace(dicom.facts_of(header, frames), writing=writing or None),
        levels=levels,
        burnt_in="seen" if writing and said != "said" else said,
        view=view,
        posture=posture,
        said_of=dicom.said_of(header),
    )


def _picture(kind: str, source: BinaryIO, out: BinaryIO, limits: Limits) -> Arrival:
    pixels = pictures.read_picture(source, limits)
    out.write(pictures.as_png(pixels))
    levels = Levels(0, 255, 0, 255)
    if pixels.dtype.itemsize == 2:
        least, most = float(pixels.min()), float(pixels.max())
        levels = Levels(least, most, least, most)
    writing = find_writing(pictures.shaded(pixels, levels.least, levels.most))
    facts = ImageFacts(rows=pixels.shape[0], columns=pixels.shape[1], writing=writing or None)
    # Pictures are mostly taken from a screen, where names stand beside the film.
    return Arrival(kind=kind, facts=facts, levels=levels, burnt_in="seen" if writing else "likely")


def _said(answer: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(answer)
    except ValueError:
        return None
    return found if isinstance(found, dict) else None


def _bound(memory_mb: int) -> None:
    """Bound this process for good, where the system can; what it asks beyond that, it is refused."""
    try:
        # Not there on every system.
        import resource  # noqa: PLC0415
    except ImportError:
        return
    for what, most in (
        (resource.RLIMIT_AS, memory_mb * MEGABYTE),
        (resource.RLIMIT_CPU, SECONDS),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (most, most))


def main() -> None:
    """Examine the file that is our input; hand over what is to be kept, and say what was found."""
    limits, memory_mb = json.loads(sys.argv[1])
    _bound(memory_mb)
    with _taken_over(1) as out, _taken_over(2) as told, TemporaryFile() as body:
        try:
            found = look_into(sys.stdin.buffer, cast("BinaryIO", body), Limits(**limits)).as_json()
            body.seek(0)
            shutil.copyfileobj(body, out, MEGABYTE)
        except ImageRefused as fault:
            found = {"refused": str(fault)}
        except (MemoryError, RecursionError):
            found = {"refused": GAVE_UP}
        told.write(json.dumps(found).encode())


def _taken_over(channel: int) -> BinaryIO:
    """Return an output of this process for us alone: what libraries write there is lost."""
    ours = os.fdopen(os.dup(channel), "wb")
    with open(os.devnull, "wb") as nowhere:
        os.dup2(nowhere.fileno(), channel)
    return ours


if __name__ == "__main__":
    main()
