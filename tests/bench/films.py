"""How long a film of 40 megapixels takes, from being sent to a saved reading.

    python tests/bench/films.py [rows columns]

Prints seconds on the clock and of the processor for each step: examined (in its own process), kept, the
measuring page with its picture for the first time, the picture again with other levels and small, and
a reading of all landmarks saved. A database of its own in a temporary folder.
"""

import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))


@contextmanager
def timed(what: str) -> Iterator[None]:
    """Print how long something took."""
    clock, processor = time.perf_counter(), sum(os.times()[:4])
    yield
    spent = time.perf_counter() - clock
    worked = sum(os.times()[:4]) - processor
    print(f"{what:38} {spent:6.2f} s on the clock, {worked:6.2f} s of the processor")


def main() -> None:
    """Send one film and look at it."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["HOLDFAST_DATA_DIR"] = folder
        os.environ["HOLDFAST_DATABASE"] = f"sqlite:///{folder}/films.sqlite3"
        os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
        import django  # noqa: PLC0415

        django.setup()
        _measure(*(int(word) for word in sys.argv[1:3]))


def _measure(rows: int = 5000, columns: int = 8000) -> None:
    # Only once the settings are there.
    from django.core.files.base import ContentFile  # noqa: PLC0415
    from django.core.management import call_command  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415
    from django.urls import reverse  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from analytics.simulation import shoulder_films  # noqa: PLC0415
    from followup.services import images  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    drawn = shoulder_films.Shoulders(rows=rows, columns=columns, imager_spacing_mm=0.04)
    film = shoulder_films.draw(drawn)
    surgeon = builders.person("selma", north="surgeon")
    now = timezone.now()
    client = Client(SERVER_NAME="localhost")
    client.force_login(surgeon)
    for name, content in (("DICOM, 12 bits", film.dicom()), ("PNG, 8 bits", film.png())):
        print(f"{name}: {columns} by {rows} pixels, {len(content) / 1e6:.0f} MB")
        injury = builders.injury()
        with timed("  taken in (examined, kept)"):
            waiting = images.take_in_one(
                site=injury.site,
                content=ContentFile(content),
                file_name="film",
                by=surgeon,
                now=now,
            )
        with timed("  given to a film"):
            image = images.confirm(
                incoming=waiting,
                injury=injury,
                film=None,
                values={"taken_on": builders.TODAY, "view": "zanca", "shows_both_sides": True},
                expected_version=1,
                by=surgeon,
                now=now,
                today=builders.TODAY,
            )
        address = reverse("image-frame", args=[image.pk, 1])
        page = reverse("image-measure", args=[image.pk])
        with timed("  measuring page and picture, first"):
            assert client.get(page).status_code == 200
            answer = client.get(address)
        print(f"  {len(answer.content) / 1e6:.0f} MB go to the browser")
        with timed("  seen with other levels"):
            client.get(address, {"low": image.least, "high": image.most})
        with timed("  asked again, unchanged"):
            again = client.get(address, headers={"if-none-match": answer["ETag"]})
        assert (answer.status_code, again.status_code) == (200, 304)
        for words in ("  small, first", "  small, again"):
            with timed(words):
                assert client.get(address, {"small": "yes"}).status_code == 200
        marks = {
            f"{mark}_{axis}": f"{at + 0.5:.1f}"
            for mark, place in film.landmarks.items()
            for axis, at in zip("xy", place, strict=True)
        }
        said = {"version": 0, "union": "partial", "hardware": "intact", **marks}
        with timed("  reading saved"):
            saved = client.post(page, said)
        assert saved.status_code == 302, saved.content.decode()[-3000:]


if __name__ == "__main__":
    main()
