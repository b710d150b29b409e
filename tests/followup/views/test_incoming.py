import re
from datetime import date
from typing import Any

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image, ImageDraw, ImageFont

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from followup.exchange import pictures
from followup.exchange.image_examiner import examine
from followup.models import Film, FilmImage, IncomingImage
from followup.services import images
from registry.models import AuditEntry, Injury, Person
from tests import builders
from tests.followup.exchange.dicom_samples import examined_here
from tests.looked import looked_for
from tests.world import GREYS

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("here")]
FILM = shoulder_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0))
BORN = date(1971, 3, 4)


@pytest.fixture
def here(monkeypatch: Any) -> None:
    """Examine what is sent in this process; one test does without."""
    monkeypatch.setattr(images, "examine", examined_here)


@pytest.fixture
def sending(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


@pytest.fixture
def injury(coordinator: Person) -> Injury:
    return builders.injury(
        builders.patient(
            family_name="Marlowe", given_name="Agneta", birth_earliest=BORN, birth_latest=BORN
        )
    )


def send(client: Client, *contents: bytes, query: str = "") -> Any:
    sent = [SimpleUploadedFile(f"{n}.dcm", content) for n, content in enumerate(contents)]
    data = {"site": builders.site().pk, "films": sent}
    return client.post(reverse("incoming") + query, data)


def waiting(client: Client) -> IncomingImage:
    assert send(client, FILM.dicom()).status_code == 302
    return IncomingImage.objects.get(image__isnull=True)


def test_a_film_goes_the_whole_way(sending: Client, monkeypatch: Any) -> None:
    monkeypatch.setattr(images, "examine", examine)
    assert waiting(sending).image_facts.magnification == 1.1


def test_several_films_are_sent_at_once_and_the_refused_are_named(sending: Client) -> None:
    answer = send(sending, FILM.dicom(), b"%PDF", pictures.as_png(GREYS))
    page = answer.content.decode()
    assert "1 file was not taken" in page
    assert "1.dcm" in page.split('role="alert"')[1].split("</div>")[0]
    assert IncomingImage.objects.count() == 2
    assert page.count("data-walk-link") == 2


def test_nothing_sent_is_said_by_the_field(sending: Client, settings: Any) -> None:
    assert "Choose the films" in send(sending).content.decode()
    settings.FILMS_AT_ONCE = 1
    assert "up to 1 are taken at once" in send(sending, b"a", b"b").content.decode()
    assert not IncomingImage.objects.exists()


def test_one_film_leads_straight_to_whose_it_is_and_the_match_is_offered(
    sending: Client, injury: Injury
) -> None:
    answer = send(sending, FILM.dicom())
    page = sending.get(answer["Location"]).content.decode()
    assert "Marlowe, Agneta" in page
    assert "N-004711" in page
    assert f"?injury={injury.pk}" in page
    assert "the same family name" in page


def test_no_two_fields_of_the_page_answer_to_one_label(sending: Client) -> None:
    other = builders.injury(builders.patient(family_name="Kessel"))
    image = waiting(sending)
    address = reverse("incoming-image", args=[image.pk])
    page = sending.get(address, {"injury": other.pk}).content.decode()
    assert "The file names somebody else" in page
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert sorted(set(ids)) == sorted(ids)


def test_what_looks_like_writing_is_marked_until_something_is_painted(sending: Client) -> None:
    values = FILM.values.copy()
    large = np.kron(values >> 4, np.ones((8, 8))).astype(np.uint8)
    picture = Image.fromarray(large)
    ImageDraw.Draw(picture).text((20, 15), "MARLOWE 4711", 255, ImageFont.load_default(30))
    send(sending, pictures.as_png(np.asarray(picture)))
    image = IncomingImage.objects.get()
    (box,) = image.image_facts.writing or ()
    written = " ".join(str(edge) for edge in box)
    address = reverse("incoming-image", args=[image.pk])
    page = sending.get(address).content.decode()
    assert "Something that looks like writing stands in the picture" in page
    assert written in page
    sent = {"version": image.version, "boxes": written, "sure": "on"}
    sending.post(reverse("incoming-paint", args=[image.pk]), sent)
    assert written not in sending.get(address).content.decode()


def test_who_it_is_of_is_looked_for_by_words(sending: Client, injury: Injury) -> None:
    other = builders.injury(builders.patient(family_name="Kessel"))
    image = waiting(sending)
    page = looked_for(sending, "kessel", reverse("incoming-image", args=[image.pk]))
    assert f"?injury={other.pk}" in page.content.decode()
    none = looked_for(sending, "nobody at all", reverse("incoming-image", args=[image.pk]))
    assert "Nobody found" in none.content.decode()


def confirm(client: Client, image: IncomingImage, injury: Injury, **more: Any) -> Any:
    given = {
        "injury": injury.pk,
        "version": image.version,
        "film": "new",
        "taken_on": "2026-07-17",
        "view": "zanca",
        "posture": "upright",
        "weighted": "no",
        "calibration": "detector",
        **more,
    }
    return client.post(reverse("incoming-image", args=[image.pk]), given)


def test_a_new_film_is_proposed_from_the_header_and_kept(sending: Client, injury: Injury) -> None:
    image = waiting(sending)
    address = reverse("incoming-image", args=[image.pk])
    form = sending.get(address, {"injury": injury.pk}).context["form"]
    assert form.initial["taken_on"] == date(2026, 7, 17)
    assert (form.initial["view"], form.initial["posture"]) == ("zanca", "upright")
    assert "sure" not in form.fields
    answer = confirm(sending, image, injury)
    assert answer["Location"] == reverse("incoming")
    kept = FilmImage.objects.get()
    assert (kept.film.injury, kept.film.calibration) == (injury, "detector")
    # That a person was looked at by name is written down.
    assert AuditEntry.objects.filter(table="registry_patient", action="read").exists()
    assert sending.get(address).status_code == 404


def test_a_film_that_is_there_can_be_chosen(sending: Client, injury: Injury) -> None:
    confirm(sending, waiting(sending), injury)
    film = Film.objects.get()
    send(sending, pictures.as_png(GREYS))
    image = IncomingImage.objects.get(image__isnull=True)
    confirm(sending, image, injury, film=film.pk, taken_on="", view="")
    assert film.images.count() == 2


def test_another_name_in_the_file_has_to_be_looked_at(sending: Client, injury: Injury) -> None:
    other = builders.injury(builders.patient(family_name="Kessel", given_name="Ida"))
    image = waiting(sending)
    answer = confirm(sending, image, other)
    assert "The file names somebody else" in answer.content.decode()
    assert not FilmImage.objects.exists()
    assert confirm(sending, image, other, sure="on").status_code == 302


def test_a_new_film_needs_its_day_and_view(sending: Client, injury: Injury) -> None:
    answer = confirm(sending, waiting(sending), injury, taken_on="", view="")
    assert set(answer.context["form"].errors) == {"taken_on", "view"}


def test_from_a_patients_page_that_patient_is_offered(sending: Client) -> None:
    injury = builders.injury()
    page = sending.get(reverse("patient", args=[injury.patient.key])).content.decode()
    query = f"?injury={injury.pk}"
    assert reverse("incoming") + query in page
    send(sending, FILM.dicom(), query=query)
    image = IncomingImage.objects.get()
    shown = sending.get(reverse("incoming-image", args=[image.pk])).content.decode()
    assert "sent from their page" in shown


def test_boxes_are_painted_only_when_it_is_known_that_they_stay(sending: Client) -> None:
    image = waiting(sending)
    address = reverse("incoming-paint", args=[image.pk])
    sending.post(address, {"version": 1, "boxes": "0 0 20 10"})
    image.refresh_from_db()
    assert image.painted == []
    sending.post(address, {"version": 1, "boxes": "0 0 20 10", "sure": "on"})
    image.refresh_from_db()
    assert image.painted == [[0, 0, 0, 20, 10]]
    answer = sending.post(address, {"version": 2, "boxes": "0 0", "sure": "on"}, follow=True)
    assert "Line 1" in answer.content.decode()


def test_one_that_is_not_wanted_is_discarded_with_a_reason(sending: Client) -> None:
    image = waiting(sending)
    address = reverse("incoming-discard", args=[image.pk])
    sending.post(address, {"version": 1, "reason": ""})
    assert IncomingImage.objects.exists()
    sending.post(address, {"version": 1, "reason": "not a shoulder"})
    assert not IncomingImage.objects.exists()


def test_who_reads_films_sees_the_image_and_not_whose_it_is(
    sending: Client, injury: Injury, film_reader: Person
) -> None:
    confirm(sending, waiting(sending), injury)
    reader = Client()
    reader.force_login(film_reader)
    image = FilmImage.objects.get()
    answer = reader.get(reverse("image-frame", args=[image.pk, 1]))
    assert answer["Content-Type"] == "image/png"
    assert reader.get(reverse("incoming")).status_code == 403
    assert b"arlowe" not in answer.content
