"""The folder in which copies lie: their names, what is told beside each, how old the newest is."""

import json
import os
import re
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.conf import settings

from config.copies.manifest import Content, Manifest

NAME = re.compile(r"holdfast-(\d{8}T\d{6}Z)\.age")
MOMENT = "%Y%m%dT%H%M%SZ"
# What was begun so long ago is gone on with by nobody.
BEGUN_SECONDS = 86_400
# A night and a half: one that was missed is seen before the next.
OLD_AFTER = timedelta(hours=36)


@dataclass(frozen=True)
class Kept:
    """A copy that was written: its file, what it says of itself, and both hashes of what was written."""

    file: Path
    manifest: Manifest
    cipher: Content
    plain: Content


def name_at(now: datetime) -> str:
    """Return the name of a copy that is made at a moment."""
    return f"holdfast-{now.astimezone(UTC).strftime(MOMENT)}.age"


def beside(file: Path) -> Path:
    """Return the file in which a copy is described for whoever has no key."""
    return file.with_suffix(".json")


def describe(kept: Kept) -> None:
    """Write beside a copy what is in it; there is nothing of a patient in that."""
    told = {
        **kept.manifest.as_json(secret=False),
        "ciphertext": asdict(kept.cipher),
        "plaintext": asdict(kept.plain),
    }
    begun = beside(kept.file).with_suffix(".json.begun")
    with begun.open("w", encoding="utf-8") as target:
        json.dump(told, target, indent=1)
        target.flush()
        os.fsync(target.fileno())
    begun.replace(beside(kept.file))


def copies(folder: Path) -> list[tuple[datetime, Path]]:
    """Return the whole copies of a folder with their moments, the newest first."""
    return sorted(_found(folder), reverse=True)


def _found(folder: Path) -> Iterator[tuple[datetime, Path]]:
    if not folder.is_dir():
        return
    for file in folder.iterdir():
        match = NAME.fullmatch(file.name)
        if match and file.is_file():
            yield datetime.strptime(match.group(1), MOMENT).replace(tzinfo=UTC), file


def retire(folder: Path, keep: int) -> int:
    """Delete all but the newest copies; return how many went. With `keep` 0 all stay."""
    old = copies(folder)[keep:] if keep > 0 else []
    for _, file in old:
        file.unlink(missing_ok=True)
        beside(file).unlink(missing_ok=True)
    return len(old)


def clear_begun(folder: Path) -> None:
    """Delete what an attempt that was killed long ago has left."""
    for file in folder.glob("holdfast-*.begun"):
        if time.time() - file.stat().st_mtime > BEGUN_SECONDS:
            file.unlink(missing_ok=True)


def newest() -> tuple[datetime, Path] | None:
    """Return the newest copy of the folder that is set, None where there is none."""
    found = copies(Path(settings.COPIES_DIR)) if settings.COPIES_DIR else []
    return found[0] if found else None


def is_set_up() -> bool:
    """Say whether copies are made at night: a folder and a public key are set."""
    return bool(settings.COPIES_DIR and settings.COPIES_FOR)


def state_in_words(now: datetime) -> str:
    """Say how old the newest copy is."""
    if not is_set_up():
        return "none are made: HOLDFAST_COPIES_DIR and HOLDFAST_COPIES_FOR are not set"
    last = newest()
    if last is None:
        return "none yet"
    hours = (now - last[0]).total_seconds() / 3600
    age = f"{hours:.0f} h" if hours >= 2 else f"{hours * 60:.0f} min"
    return f"{age} ago, {last[1].name}"


def concern(now: datetime) -> str:
    """Say what somebody has to look at, '' where the newest copy is young enough or none are made."""
    if not is_set_up():
        return ""
    last = newest()
    if last is None:
        return "There is no copy of the records yet: run keep_copy."
    if now - last[0] <= OLD_AFTER:
        return ""
    days = (now - last[0]).total_seconds() / 86_400
    return f"The newest copy of the records is {days:.1f} days old: run keep_copy and see what it says."
