"""Films in storage that speaks S3, by way of a server that does so on this machine."""

import json
import logging
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import boto3
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from moto.server import ThreadedMotoServer

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from config import env
from followup.exchange import film_store
from followup.models import FilmImage
from followup.rules.image_boxes import Box
from followup.services import images
from followup.services.image_files import sweep_files
from registry.models import Person
from tests import builders
from tests.builders import NOW
from tests.followup.exchange.dicom_samples import examined_here
from tests.followup.pictured import film

FILM = shoulder_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0))
KEYS = {"access_key": "films", "secret_key": "not secret", "region_name": "eu-west-1"}


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    yield f"http://{host}:{port}"
    server.stop()


@pytest.fixture(autouse=True)
def objects(address: str, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Keep films in a fresh bucket, set as a service sets it; return the client that looks into it."""
    client = boto3.client(
        "s3",
        endpoint_url=address,
        aws_access_key_id=KEYS["access_key"],
        aws_secret_access_key=KEYS["secret_key"],
        region_name=KEYS["region_name"],
    )
    bucket = f"films-{len(client.list_buckets()['Buckets'])}"
    where = {"LocationConstraint": KEYS["region_name"]}
    client.create_bucket(Bucket=bucket, CreateBucketConfiguration=where)
    options = {**KEYS, "bucket_name": bucket, "endpoint_url": address}
    monkeypatch.setenv("HOLDFAST_FILMS_BACKEND", "storages.backends.s3.S3Storage")
    monkeypatch.setenv("HOLDFAST_FILMS_OPTIONS", json.dumps(options))
    settings.STORAGES = {**settings.STORAGES, "films": env.films(settings.FILMS_DIR)}
    assert type(storages["films"]).__name__ == "S3Storage"
    return client, bucket


def test_a_file_is_kept_found_and_dropped() -> None:
    assert dict(film_store.kept()) == {}
    name = film_store.put(ContentFile(b"pixels", "Doe Jane 1962.dcm"))
    with film_store.open_file(name) as found:
        assert found.read() == b"pixels"
    ((kept, since),) = film_store.kept()
    assert kept == name
    assert abs(since - timezone.now()) < timedelta(minutes=1)
    film_store.drop(name)
    film_store.drop(name)
    with pytest.raises(FileNotFoundError):
        film_store.open_file(name)


@pytest.mark.django_db
def test_a_film_goes_the_whole_way_and_nobody_is_sent_to_the_storage(
    client: Client, surgeon: Person, objects: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(images, "examine", examined_here)
    at: dict[str, Any] = {"by": surgeon, "now": NOW}
    sent = ContentFile(FILM.dicom(), "film.dcm")
    waiting = images.take_in_one(site=builders.site(), content=sent, file_name="film.dcm", **at)
    first = waiting.stored_name
    box = Box(0, 0, 0, 9, 9)
    images.paint_over(incoming=waiting, boxes=[box], expected_version=1, **at)
    waiting.refresh_from_db()
    row = film()
    image = images.confirm(
        incoming=waiting,
        injury=row.injury,
        film=row,
        values={},
        expected_version=waiting.version,
        today=builders.TODAY,
        **at,
    )
    s3, bucket = objects
    lie_there = [one["Key"] for one in s3.list_objects_v2(Bucket=bucket).get("Contents", [])]
    assert image.stored_name in lie_there
    held = s3.get_object(Bucket=bucket, Key=image.stored_name)["Body"].read()
    assert not [name for name in (b"Marlowe", b"Agneta", b"N-004711") if name in held]
    client.force_login(surgeon)
    answer = client.get(reverse("image-frame", args=[image.pk, 1]))
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/png")
    sweep_files(now=timezone.now() + timedelta(days=2))
    assert {name for name, _ in film_store.kept()} == {image.stored_name}
    assert first not in dict(film_store.kept())
    film_store.drop(image.stored_name)
    assert client.get(reverse("image-frame", args=[image.pk, 1]) + "?low=1").status_code == 404
    assert FilmImage.objects.filter(pk=image.pk).exists()
