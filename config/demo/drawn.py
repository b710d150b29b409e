"""Drawn pictures for some invented films: of who comes next, not read yet, warned of, and come in."""

import hashlib
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime
from io import BytesIO

from django.db.models import Q, QuerySet

from analytics.models import LossAlert
from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders, SyntheticFilm
from config.demo.staff import Staff
from followup.exchange.image_examiner import look_into
from followup.models import Appointment, Film, FilmImage, IncomingImage, Reading
from followup.models.films import CALIBRATED, View
from followup.models.reviews import AppointmentState
from followup.rules.image_arrival import Arrival
from followup.rules.image_files import Limits
from followup.services import images
from registry.models import Injury, Person, Site

# A picture is drawn in the time of some rows, so a few patients of each site have them.
PATIENTS, FILMS_EACH, UNREAD, CAME_IN = 3, 5, 12, 1
ROWS, COLUMNS, SPACING_MM = 420, 680, 0.42
DRAWN = (View.ZANCA, View.AP)
# Where nobody has measured the other side.
OTHER_MM, INJURED_MM = 8.8, 9.6


def draw(staff: Staff, *, now: datetime, today: date) -> int:
    """Draw the pictures of every site and keep them; return how many."""
    made = 0
    for site in staff.sites:
        films = [*_of_who_comes_next(site, today), *_unread(site), *_warned_of(site)]
        for film in {film.pk: film for film in films}.values():
            _keep(film, staff.coordinator, now)
            made += 1
        made += _came_in(site, films, staff.coordinator, now)
    return made


def shoulders_of(film: Film) -> Shoulders:
    """Return what is drawn for a film: the distances that were read, or those of the film before."""
    read = _read(film)
    injured, other = (
        float(value) if value is not None else usual
        for value, usual in (
            (read.ccd_injured_mm if read else None, INJURED_MM),
            (read.ccd_other_mm if read else None, OTHER_MM),
        )
    )
    return Shoulders(
        cc_injured_mm=injured,
        cc_other_mm=other,
        ac_injured_mm=max(0.0, round(injured - other, 1)),
        injured=film.injury.side,
        rotation_deg=film.pk % 7 - 3,
        magnification=1.05 + film.pk % 5 / 50,
        imager_spacing_mm=SPACING_MM,
        marker_mm=25.0 if film.calibration in CALIBRATED else 0.0,
        rows=ROWS,
        columns=COLUMNS,
        seed=film.pk,
    )


def _of_who_comes_next(site: Site, today: date) -> Iterable[Film]:
    coming = Appointment.objects.filter(
        review__site=site, on__gte=today, state=AppointmentState.BOOKED
    ).order_by("on", "at", "id")
    for injury in coming.values_list("review__procedure__injury", flat=True)[:PATIENTS]:
        yield from _films().filter(injury=injury).order_by("-taken_on", "-id")[:FILMS_EACH]


def _unread(site: Site) -> Iterable[Film]:
    return _films().filter(site=site, readings__isnull=True).order_by("-taken_on", "-id")[:UNREAD]


def _warned_of(site: Site) -> Iterable[Film]:
    """Yield the first film after the operation and the one that is warned of."""
    alerts = LossAlert.objects.filter(site=site).select_related("procedure").order_by("id")
    for alert in alerts:
        done = alert.procedure
        after = _films().filter(injury=done.injury_id, taken_on__gte=done.performed_on)
        yield from after.order_by("taken_on", "id")[:1]
        yield from after.filter(pk=alert.film_id)


def _films() -> QuerySet[Film]:
    return Film.objects.filter(view__in=DRAWN).select_related("injury__patient", "site")


def _read(film: Film) -> Reading | None:
    """Return a reading of a film, else the last one before it of the same injury."""
    rows = Reading.objects.filter(
        Q(film=film) | Q(film__injury=film.injury, film__taken_on__lt=film.taken_on),
        superseded_by__isnull=True,
        ccd_injured_mm__isnull=False,
    )
    return rows.order_by("-film__taken_on", "id").first()


def _drawn(film: Film) -> SyntheticFilm:
    found = shoulder_films.draw(shoulders_of(film))
    if not film.shows_both_sides:
        half = COLUMNS // 2
        # The left shoulder stands on the right of the film.
        part = slice(half, None) if film.injury.side == "left" else slice(None, half)
        found = replace(found, values=found.values[:, part])
    said = f"{'Both shoulders' if film.shows_both_sides else 'Shoulder'} {film.view} {film.posture}"
    return found.with_header(StudyDate=f"{film.taken_on:%Y%m%d}", SeriesDescription=said)


def _examined(content: bytes) -> tuple[Arrival, BytesIO, str]:
    # Drawn here: nothing has to be opened in a process of its own.
    body = BytesIO()
    arrival = look_into(BytesIO(content), body, Limits())
    body.seek(0)
    return arrival, body, hashlib.sha256(content).hexdigest()


def _keep(film: Film, by: Person, now: datetime) -> None:
    drawn = _drawn(film)
    content = drawn.dicom() if film.calibration in CALIBRATED else drawn.png()
    arrival, body, digest = _examined(content)
    image = FilmImage(film=film, site=film.site)
    images.keep(image=image, arrival=arrival, body=body, digest=digest, by=by, now=now)


def _came_in(site: Site, films: Iterable[Film], by: Person, now: datetime) -> int:
    """Let a film of somebody who comes next have come in, named by its header."""
    whose = list({film.injury_id: film for film in films}.values())[:CAME_IN]
    for film in whose:
        injury: Injury = film.injury
        identity = injury.patient.identity
        named = _drawn(film).with_header(
            PatientName=f"{identity.family_name}^{identity.given_name}",
            PatientBirthDate=f"{identity.birth_earliest:%Y%m%d}",
            PatientID=None,
            StudyDate=f"{now:%Y%m%d}",
        )
        arrival, body, digest = _examined(named.dicom())
        images.keep_waiting(
            image=IncomingImage(site=site),
            arrival=arrival,
            body=body,
            digest=digest,
            file_name="film.dcm",
            by=by,
            now=now,
        )
    return len(whose)
