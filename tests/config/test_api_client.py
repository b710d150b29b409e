"""A client in Python that is made from the description alone, and does its work with it."""

import importlib
import subprocess
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import httpx
import pytest
from django.core.wsgi import get_wsgi_application
from knox.models import get_token_model

from registry.api import description
from registry.models import Procedure
from tests import builders

# The client closes what it was answered, and PostgreSQL's connection of the test with it.
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("defaults"),
    pytest.mark.either_engine,
]
PACKAGE = "made_client"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Generate the client; whatever the generator cannot use of the description is a fault."""
    folder = tmp_path_factory.mktemp("client")
    (folder / "description.json").write_text(description.as_text())
    settings = "post_hooks: []\ncontent_type_overrides:\n  image/png: application/octet-stream\n"
    (folder / "settings.yaml").write_text(settings)
    found = subprocess.run(
        [
            *(str(Path(sys.executable).with_name("openapi-python-client")), "generate"),
            *("--path", "description.json", "--config", "settings.yaml", "--meta", "none"),
            *("--output-path", PACKAGE, "--fail-on-warning"),
        ],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 0, found.stdout + found.stderr
    sys.path.insert(0, str(folder))
    yield folder
    sys.path.remove(str(folder))
    for name in [name for name in sys.modules if name.partition(".")[0] == PACKAGE]:
        del sys.modules[name]


def part(name: str) -> Any:
    return importlib.import_module(f"{PACKAGE}.{name}")


@pytest.fixture
def client(made: Path, time_machine: Any) -> Any:
    time_machine.move_to(builders.NOW)
    somebody = builders.person("evan", north="coordinator+surgeon")
    _, token = get_token_model().objects.create(somebody)
    transport = httpx.WSGITransport(app=get_wsgi_application())
    return part("client").AuthenticatedClient(
        base_url="http://testserver",
        token=token,
        prefix="Token",
        httpx_args={"transport": transport},
    )


def test_a_patient_is_enrolled_operated_and_found(client: Any) -> None:
    models = part("models")
    enrolled = part("api.patients.patients_create").sync_detailed(
        client=client,
        body=models.EnrolRequest.from_dict(
            {
                "site": "north",
                "identity": {
                    "family_name": "Example",
                    "given_name": "Ada",
                    "birth_earliest": "1980-02-29",
                    "birth_latest": "1980-02-29",
                },
            }
        ),
    )
    assert enrolled.status_code == 201, enrolled.content
    key = enrolled.parsed.key
    injury = part("api.injuries.injuries_create").sync(
        client=client,
        body=models.InjuryRequest.from_dict(
            {
                "patient": key,
                "side": "left",
                "injured_earliest": "2026-06-01",
                "injured_latest": "2026-06-01",
            }
        ),
    )
    assert injury.patient == key
    operations = part("api.procedures.procedures_list").sync(client=client, patient=key)
    assert (operations.count, operations.results) == (0, [])


def test_what_is_there_is_read_with_its_types(client: Any) -> None:
    row = builders.procedure()
    found = part("api.procedures.procedures_retrieve").sync(client=client, id=row.pk)
    assert found.performed_on == row.performed_on
    assert isinstance(found.performed_on, date)
    reviews = part("api.reviews.reviews_list").sync(client=client, patient=row.injury.patient.key)
    assert reviews.count == row.reviews.count() > 3


def test_a_refusal_is_read_as_one(client: Any) -> None:
    theirs = builders.procedure(builders.injury(builders.patient(at=builders.site("south"))))
    answer = part("api.procedures.procedures_retrieve").sync(client=client, id=theirs.pk)
    assert (answer.status, answer.title) == (404, "Not found")
    row = builders.procedure()
    body = part("models").PatchedProcedureRequest.from_dict(
        {"duration_minutes": 70, "reason": "read"}
    )
    change = part("api.procedures.procedures_partial_update").sync_detailed
    assert change(client=client, id=row.pk, body=body, if_match='"9"').status_code == 412
    assert change(client=client, id=row.pk, body=body, if_match='"1"').status_code == 200
    assert Procedure.objects.get(pk=row.pk).duration_minutes == 70
