"""Taking in pictures of films: examined, stripped of names, waiting, and given to a film by a person."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from tempfile import TemporaryFile
from typing import Any, BinaryIO, TypeVar, cast

from django.conf import settings
from django.core.files.base import File
from django.db import transaction

from followup.exchange import film_store
from followup.exchange.image_boxes import paint_file
from followup.exchange.image_examiner import examine
from followup.models.films import Film
from followup.models.images import FilmImage, IncomingImage, StoredImage
from followup.rules.image_arrival import Arrival
from followup.rules.image_boxes import Box, held_boxes
from followup.rules.image_files import START, ImageRefused, Limits, hold_bytes, kind_of
from followup.services import films
from registry.errors import BadInput, HoldfastError
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import header_identities, records

WAITS = "This very file came in before and waits under 'Films in'."
AnyImage = TypeVar("AnyImage", bound=StoredImage)
COPIED = (
    *("content_hash", "stored_name", "kind", "rows", "columns", "frames", "facts"),
    *("least", "most", "shown_low", "shown_high", "painted", "file_sha256", "file_bytes"),
)


@dataclass(frozen=True)
class Taken:
    """What became of one file of those that were sent: the waiting image, or why it was refused."""

    file_name: str
    incoming: IncomingImage | None = None
    fault: str = ""


def take_in(
    *,
    site: Site,
    files: Sequence["File[bytes]"],
    by: Person,
    now: datetime,
    injury: Injury | None = None,
) -> list[Taken]:
    """Take in the files that were sent, each for itself: one that is refused keeps no other out."""
    taken = []
    for file in files:
        name = str(file.name or "film").replace("\\", "/").rsplit("/", 1)[-1][:120]
        try:
            image = take_in_one(
                site=site, content=file, file_name=name, by=by, now=now, injury=injury
            )
        except HoldfastError as fault:
            taken.append(Taken(name, fault=str(fault)))
        else:
            taken.append(Taken(name, image))
    return taken


def take_in_one(
    *,
    site: Site,
    content: "File[bytes]",
    file_name: str,
    by: Person,
    now: datetime,
    injury: Injury | None = None,
) -> IncomingImage:
    """Take in one file, which waits until a person says whose it is.

    Raises ImageRefused for a file that cannot be taken, or that is there or waits already.
    """
    digest = _held(content, site)
    if _waits(digest, site):
        raise ImageRefused(WAITS)
    with _as_file(content) as source:
        arrival, body = examine(source, Limits(**settings.FILM_LIMITS), settings.FILM_MEMORY_MB)
    with body:
        image = IncomingImage(site=site, injury=injury)
        return keep_waiting(
            image=image,
            arrival=arrival,
            body=body,
            digest=digest,
            file_name=file_name,
            by=by,
            now=now,
        )


def keep_waiting(
    *,
    image: IncomingImage,
    arrival: Arrival,
    body: BinaryIO,
    digest: str,
    file_name: str,
    by: Person,
    now: datetime,
) -> IncomingImage:
    """Keep an examined image with whom its header names, until a person says whose it is."""
    with records.change(by=by):
        image.burnt_in, image.view, image.posture = arrival.burnt_in, arrival.view, arrival.posture
        image.named_id = header_identities.keep(
            site=image.site, file_name=file_name, now=now, **asdict(arrival.said_of)
        )
        return keep(image=image, arrival=arrival, body=body, digest=digest, by=by, now=now)


def keep(
    *,
    image: AnyImage,
    arrival: Arrival,
    body: BinaryIO,
    digest: str,
    by: Person,
    now: datetime,
) -> AnyImage:
    """Store the file of an image and save its row: both or, when either fails, neither.

    Raises ImageRefused when the same file arrived at the same moment by another way.
    """
    facts = arrival.facts
    image.content_hash, image.kind, image.facts = digest, arrival.kind, facts.as_json()
    image.rows, image.columns, image.frames = facts.rows, facts.columns, facts.frames
    for name, value in asdict(arrival.levels).items():
        setattr(image, name, value)
    # The file first: a row never names one that is not there. What is left over is swept up.
    image.file_sha256, image.file_bytes = film_store.measured(body)
    image.stored_name = film_store.put(File(body))
    try:
        return records.create(image, by=by, now=now)
    except BadInput as fault:
        film_store.drop(image.stored_name)
        if there := _there(digest, image.site) or (WAITS if _waits(digest, image.site) else ""):
            raise ImageRefused(there) from fault
        raise
    except BaseException:
        film_store.drop(image.stored_name)
        raise


def add_image(*, film: Film, content: "File[bytes]", by: Person, now: datetime) -> FilmImage:
    """Keep a picture of a film that is already known, as a program may send it.

    Raises ImageRefused for a file that cannot be taken or that is there already.
    """
    digest = _held(content, film.site)
    with _as_file(content) as source:
        arrival, body = examine(source, Limits(**settings.FILM_LIMITS), settings.FILM_MEMORY_MB)
    with body:
        image = FilmImage(film=film, site=film.site)
        return keep(image=image, arrival=arrival, body=body, digest=digest, by=by, now=now)


def confirm(
    *,
    incoming: IncomingImage,
    injury: Injury,
    film: Film | None,
    values: Mapping[str, Any],
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> FilmImage:
    """Give a waiting image to a film: to one that is there, or to a new one with these values.

    What its header said of a person is forgotten with that. Raises BadInput when film or injury are
    of another site or the film cannot be, StaleVersion when somebody else has decided meanwhile.
    """
    if injury.site_id != incoming.site_id:
        raise BadInput("This image came to another site than the injury belongs to. Send it there.")
    if film is not None and film.injury_id != injury.pk:
        raise BadInput({"film": "This film is of another injury."})
    named = incoming.named_id
    at: dict[str, Any] = {"by": by, "now": now}
    with records.change(by=by):
        # First of all, so that of two who decide at once the second is told.
        records.save(incoming, {"named": None}, expected_version=expected_version, **at)
        belongs = film or films.record_film(injury=injury, values=values, today=today, **at)
        copied = {name: getattr(incoming, name) for name in COPIED}
        image = FilmImage(film=belongs, site=incoming.site, **copied)
        try:
            records.create(image, **at)
        except BadInput as fault:
            if there := _there(incoming.content_hash, incoming.site):
                raise ImageRefused(there) from fault
            raise
        records.save(incoming, {"image": image}, expected_version=incoming.version, **at)
        header_identities.forget(row_id=named)
    return image


def discard(
    *, incoming: IncomingImage, reason: str, expected_version: int, by: Person, now: datetime
) -> None:
    """Discard a waiting image with a reason; its file goes some weeks later, by the sweep.

    Raises BadInput without a reason, StaleVersion when somebody else has decided meanwhile.
    """
    with records.change(by=by, reason=reason):
        records.void(incoming, by=by, now=now, expected_version=expected_version, reason=reason)
        header_identities.forget(row_id=incoming.named_id)


def paint_over(
    *,
    incoming: IncomingImage,
    boxes: Sequence[Box],
    expected_version: int,
    by: Person,
    now: datetime,
) -> None:
    """Paint boxes over the pixels of a waiting image for good; nothing brings them back.

    Raises BadInput for boxes outside the image, StaleVersion when it was changed meanwhile.
    """
    held = held_boxes(boxes, rows=incoming.rows, columns=incoming.columns, frames=incoming.frames)
    with film_store.open_file(incoming.stored_name) as source, TemporaryFile() as out:
        paint_file(incoming, source, cast("BinaryIO", out), held)
        digest, size = film_store.measured(out)
        before, fresh = incoming.stored_name, film_store.put(File(out))
    try:
        with records.change(by=by, reason="painted over"):
            records.save(
                incoming,
                {
                    "stored_name": fresh,
                    "file_sha256": digest,
                    "file_bytes": size,
                    "painted": [*incoming.painted, *(list(asdict(box).values()) for box in held)],
                },
                by=by,
                now=now,
                expected_version=expected_version,
            )
            transaction.on_commit(lambda: film_store.drop(before))
    except BaseException:
        film_store.drop(fresh)
        raise


def _held(content: "File[bytes]", site: Site) -> str:
    """Return the hash of a file that is small enough, of a kind that is taken, and not there yet."""
    hold_bytes(content.size, Limits(**settings.FILM_LIMITS))
    content.seek(0)
    kind_of(content.read(START))
    digest = _digest(content.chunks())
    if there := _there(digest, site):
        raise ImageRefused(there)
    return digest


def _there(digest: str, site: Site) -> str:
    image = FilmImage.objects.filter(site=site, content_hash=digest).select_related("film").first()
    if image is not None:
        return f"This very file is there already, as an image of {image.film}."
    return ""


def _waits(digest: str, site: Site) -> bool:
    return IncomingImage.objects.filter(site=site, content_hash=digest, image__isnull=True).exists()


def _as_file(content: "File[bytes]") -> BinaryIO:
    """Return what was sent as a file of the system, which another process can read."""
    copy = cast("BinaryIO", TemporaryFile())  # noqa: SIM115 - closed by the caller
    for piece in content.chunks():
        copy.write(piece)
    copy.flush()
    return copy


def _digest(chunks: Iterable[bytes]) -> str:
    found = hashlib.sha256()
    for chunk in chunks:
        found.update(chunk)
    return found.hexdigest()
