"""Mutates films and samples and hands them to the reader; run as a program, prints what came of it."""

import json
import os
import random
import re
import resource
import sys
import warnings
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryFile
from typing import BinaryIO, cast

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from followup.exchange.image_examiner import GAVE_UP, examine, look_into
from followup.rules.image_files import ImageRefused, Limits
from tests.followup.exchange.dicom_samples import FILES

MEMORY_MB = 1500
LIMITS = Limits(most_pixels=4_000_000, most_pixels_in_all=8_000_000)
# What stands in the header of the films of our own, and must never stand in what is kept.
NAMES = (b"Marlowe", b"Agneta", b"N-004711")
FILM = shoulder_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0))


def seeds() -> list[bytes]:
    """Return what is mutated: our own films, and the small samples that pydicom carries."""
    small = [path.read_bytes() for path in FILES if path.stat().st_size < 60_000]
    ours = [FILM.dicom(), FILM.dicom(16, "MONOCHROME1"), FILM.png(), FILM.png(16)]
    return ours * 8 + small


def mutated(content: bytes, dice: random.Random) -> bytes:
    """Return a file with a few bytes changed, a stretch cut out, doubled or swapped, or cut short."""
    found = bytearray(content)
    for _ in range(dice.randint(1, 3)):
        here = dice.randrange(max(1, len(found)))
        # Most of what can go wrong stands in the header.
        here = here if dice.random() < 0.3 else min(here, dice.randrange(1500))
        length = dice.randint(1, 40)
        way = dice.choice((0, 0, 0, 0, 1, 1, 2, 3, 4, 5))
        if way == 0:
            found[here : here + 1] = bytes([dice.randrange(256)])
        elif way == 1:
            found[here : here + length] = dice.randbytes(length)
        elif way == 2:
            del found[here : here + length]
        elif way == 3:
            found[here:here] = found[here : here + length] * dice.randint(1, 50)
        elif way == 4:
            found[here : here + 4] = dice.choice(
                [b"\xff\xff\xff\xff", b"\0\0\0\0", b"\xff\xff\xff\x7f"]
            )
        else:
            del found[max(200, here) :]
    return bytes(found)


def tried(chunk: int, number: int) -> Iterator[tuple[str, str, int]]:
    """Yield what became of each mutated file of a chunk, why, and the most memory that it took, in MB.

    It is taken, refused or a fault; or it was stopped: it brought down the process that opened it, and
    the service, which opens each in a process of its own, then put it aside.
    """
    dice, among = random.Random(chunk), seeds()  # noqa: S311 - repeatable, not secret
    for n in range(number):
        content = mutated(dice.choice(among), dice)
        what, why, peak = _apart(content)
        yield what, f"{n}: {why}", peak


def _apart(content: bytes) -> tuple[str, str, int]:
    """Open a file in a child of this process, so that whatever it brings down is seen from here."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        os.write(writing, json.dumps([*_opened(content), _peak_mb()]).encode()[:4000])
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as answer:
        said = answer.read()
    os.waitpid(child, 0)
    if said:
        what, why, peak = json.loads(said)
        return what, why, peak
    return (*_put_aside(content), 0)


def _opened(content: bytes) -> tuple[str, str]:
    kept = BytesIO()
    try:
        look_into(BytesIO(content), kept, LIMITS)
    except ImageRefused as fault:
        leaked = any(name.decode() in str(fault) for name in NAMES)
        return ("fault", "the refusal names somebody") if leaked else ("refused", "")
    except Exception as fault:  # noqa: BLE001 - any at all is what is looked for
        return "fault", f"{type(fault).__name__}: {str(fault)[:1000]}"
    leaked = any(name in kept.getvalue() for name in NAMES)
    return ("fault", "a name is left") if leaked else ("taken", "")


def _put_aside(content: bytes) -> tuple[str, str]:
    """Hand what brought a process down to the service's own way of opening a file."""
    with TemporaryFile() as source:
        source.write(content)
        source.flush()
        try:
            _, kept = examine(cast("BinaryIO", source), LIMITS, MEMORY_MB)
        except ImageRefused as fault:
            return ("stopped", "") if str(fault) == GAVE_UP else ("fault", str(fault))
        kept.close()
    return "fault", "it brought one process down and was taken by another"


def main() -> None:
    """Try one chunk within bounded memory; print the sums as JSON."""
    warnings.simplefilter("ignore")
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_MB * 1024 * 1024,) * 2)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    came = list(tried(int(sys.argv[1]), int(sys.argv[2])))
    found = {
        **{
            word: sum(what == word for what, _, _ in came)
            for word in ("taken", "refused", "stopped")
        },
        "faults": [why for what, why, _ in came if what == "fault"],
        "peak_mb": max(peak for _, _, peak in came),
    }
    sys.stdout.write(json.dumps(found) + "\n")


def _peak_mb() -> int:
    """Return the most memory that this program held; getrusage counts what its parent held too."""
    status = Path("/proc/self/status").read_text()
    return int(re.search(r"VmHWM:\s+(\d+)", status).group(1)) // 1024  # type: ignore[union-attr]


if __name__ == "__main__":
    main()
