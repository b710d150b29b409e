"""Which pictures of films a person may see, those that wait, and who they may be of."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from followup.models.films import Film
from followup.models.images import FilmImage, IncomingImage, StoredImage
from followup.rules.image_levels import Levels
from followup.selectors.visible import visible
from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.selectors import header_identities
from registry.selectors.header_identities import NOBODY, Named
from registry.selectors.patients import search
from registry.selectors.visible import Viewer

OFFERED = 10


@dataclass(frozen=True)
class Offered:
    """A patient to whom a waiting image may belong, why, and their injuries at its site."""

    patient: Patient
    because: str
    injuries: tuple[Injury, ...]


@dataclass(frozen=True)
class WaitingLine:
    """One waiting image as the list shows it, with whom its header names."""

    image: IncomingImage
    named: Named


def images_seen_by(user: Viewer) -> QuerySet[FilmImage]:
    """Return the pictures of films that a person may see; those of voided films are not there."""
    rows: QuerySet[FilmImage] = visible(user, FilmImage, "see_films")
    return rows.filter(film__voided_at__isnull=True)


def image_seen_by(user: Viewer, image_id: int) -> FilmImage | None:
    """Return a picture of a film that a person may see; None when it is not there."""
    rows = images_seen_by(user).select_related("film__injury__patient", "site")
    return rows.filter(pk=image_id).first()


def waiting_images(user: Viewer) -> QuerySet[IncomingImage]:
    """Return the images that wait for a person to say whose they are, the oldest first."""
    rows: QuerySet[IncomingImage] = visible(user, IncomingImage, "take_in_films")
    return (
        rows.filter(image__isnull=True)
        .select_related("site", "recorded_by", "injury__patient")
        .order_by("pk")
    )


def waiting_lines(user: Viewer, images: Iterable[IncomingImage]) -> list[WaitingLine]:
    """Return waiting images with whom their headers name, in one query for all."""
    several = list(images)
    named = header_identities.named(user, [image.named_id for image in several])
    return [WaitingLine(image, named.get(image.named_id or 0, NOBODY)) for image in several]


def offered(user: Viewer, image: IncomingImage, named: Named, words: str = "") -> list[Offered]:
    """Return the patients to whom an image may belong, at most ten with an injury at its site.

    Those whom the words find, else those whom the header may mean, and first the one from whose page
    it was sent.
    """
    found: dict[int, tuple[Patient, str]] = {}
    if image.injury is not None:
        found[image.injury.patient_id] = (image.injury.patient, "it was sent from their page")
    if words:
        for patient in search(user, words)[:OFFERED]:
            found.setdefault(patient.pk, (patient, "found by your words"))
    else:
        for one in header_identities.candidates_for(user, named):
            found.setdefault(one.patient.pk, (one.patient, one.because))
    injuries = injuries_at(user, image).filter(patient__in=list(found))
    of: dict[int, list[Injury]] = {}
    for injury in injuries:
        of.setdefault(injury.patient_id, []).append(injury)
    return [
        Offered(patient, because, tuple(of.get(pk, ())))
        for pk, (patient, because) in list(found.items())[:OFFERED]
    ]


def injuries_at(user: Viewer, image: IncomingImage) -> QuerySet[Injury]:
    """Return the injuries to which a waiting image can belong: those of its site."""
    rows: QuerySet[Injury] = visible(user, Injury, "take_in_films")
    return (
        rows.filter(site=image.site, patient__merged_into__isnull=True)
        .select_related("patient__identity", "site")
        .order_by("-injured_earliest", "pk")
    )


def films_of(injury: Injury) -> list[Film]:
    """Return the films of an injury, the newest first."""
    return list(Film.objects.filter(injury=injury).order_by("-taken_on", "-pk"))


def levels_of(image: StoredImage) -> Levels:
    """Return the values that occur in a picture and those shown black and white by default."""
    return Levels(image.least, image.most, image.shown_low, image.shown_high)
