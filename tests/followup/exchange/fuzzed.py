"""Mutates films and samples and hands them to the reader; run as a program, prints what came of it."""

import json
import random
import re
import resource
import sys
import warnings
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

from followup.exchange.image_examiner import look_into
from followup.rules.image_files import ImageRefused, Limits
from tests import synthetic_films
from tests.followup.exchange.dicom_samples import FILES
from tests.synthetic_films import Shoulders

MEMORY = 1500 * 1024 * 1024
LIMITS = Limits(most_pixels=4_000_000, most_pixels_in_all=8_000_000)
# What stands in the header of the films of our own, and must never stand in what is kept.
NAMES = (b"Marlowe", b"Agneta", b"N-004711")
FILM = synthetic_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0))


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


def tried(chunk: int, number: int) -> Iterator[tuple[str, str]]:
    """Yield, for each mutated file of a chunk, whether it was taken or refused, or what went wrong."""
    dice, among = random.Random(chunk), seeds()  # noqa: S311 - repeatable, not secret
    for n in range(number):
        content, kept = mutated(dice.choice(among), dice), BytesIO()
        try:
            look_into(BytesIO(content), kept, LIMITS)
        except ImageRefused as fault:
            told = str(fault)
            leaked = any(name.decode() in told for name in NAMES)
            yield ("fault", f"{n}: the refusal names somebody") if leaked else ("refused", "")
        except Exception as fault:  # noqa: BLE001 - any at all is what is looked for
            yield "fault", f"{n}: {type(fault).__name__}: {fault}"
        else:
            leaked = any(name in kept.getvalue() for name in NAMES)
            yield ("fault", f"{n}: a name is left") if leaked else ("taken", "")


def main() -> None:
    """Try one chunk within bounded memory; print the sums as JSON."""
    warnings.simplefilter("ignore")
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    came = list(tried(int(sys.argv[1]), int(sys.argv[2])))
    peak = _peak_mb()
    found = {
        "taken": sum(what == "taken" for what, _ in came),
        "refused": sum(what == "refused" for what, _ in came),
        "faults": [why for what, why in came if what == "fault"],
        "peak_mb": peak,
    }
    sys.stdout.write(json.dumps(found) + "\n")


def _peak_mb() -> int:
    """Return the most memory that this program held; getrusage counts what its parent held too."""
    status = Path("/proc/self/status").read_text()
    return int(re.search(r"VmHWM:\s+(\d+)", status).group(1)) // 1024  # type: ignore[union-attr]


if __name__ == "__main__":
    main()
