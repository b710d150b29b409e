"""The examples in the description: sent one after another to an empty service, each is taken.

HOLDFAST_WRITE_EXAMPLES=yes writes what was answered into the fixture; read the difference.
"""

import json
import os
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from followup.models import Film
from registry.api import description, examples
from tests import builders, implanted
from tests.api import Program, signed_in
from tests.config.test_api_answers import faults
from tests.followup import pictured

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]
FIXTURE = settings.BASE_DIR / "fixtures" / examples.FIXTURE
STORY = examples.story()
OPERATIONS = {
    told["operationId"]: (method, path, told)
    for path, methods in description.description()["paths"].items()
    for method, told in methods.items()
}
SECRET = "the-secret-of-a-provider-of-messages"


def asked(api: Program, one: dict[str, Any], kept: dict[str, Any]) -> Any:
    method, path, _ = OPERATIONS[one["operation"]]
    url = path.format(**{name: kept[word] for name, word in one.get("at", {}).items()})
    if one.get("by") == "provider":
        provider = Program(headers={"Authorization": f"Bearer {SECRET}"})
        return provider.post(url, one["sent"])
    if "file" in one:
        out = BytesIO()
        Image.fromarray(np.arange(400, dtype=np.uint8).reshape(20, 20)).save(out, "PNG")
        file = SimpleUploadedFile(one["file"], out.getvalue())
        return api.post(url, {**one["sent"], "file": file}, format="multipart")
    if one["operation"] == "film_images_list":
        # Whose picture it is, a person says and never a program.
        pictured.image(Film.objects.get(), rows=20, columns=20)
    if method == "get":
        return api.get(url, one.get("query", {}))
    row = url.rstrip("/").rpartition("/")[0] + "/" if one.get("act") else url
    version = api.get(row)
    headers = {"If-Match": version["ETag"]} if version.has_header("ETag") else {}
    return getattr(api, method)(url, examples.named(one["sent"], kept), headers=headers)


@pytest.fixture
def api() -> Program:
    everything = "coordinator+surgeon+film_reader+quality_lead"
    somebody = builders.person("evan", north=everything)
    # What programs only read: a notice about the batch that the story's anchor is of.
    implanted.notice({"batch_first": "LOT42A"}, owner=somebody, title="Anchors may pull out")
    return signed_in(somebody)


def test_the_story_is_taken_as_it_is_told(api: Program, settings: Any) -> None:
    settings.REPLY_SECRET = SECRET
    kept: dict[str, Any] = {}
    for one in STORY:
        answer = asked(api, one, kept)
        assert answer.status_code < 300, f"{one['operation']}: {answer.content.decode()}"
        body = answer.json() if answer.content else None
        _, _, operation = OPERATIONS[one["operation"]]
        described = operation["responses"][str(answer.status_code)].get("content", {})
        if body is not None:
            assert not faults(described["application/json"]["schema"], body), one["operation"]
        kept |= examples.kept_of(one, body)
        if os.environ.get("HOLDFAST_WRITE_EXAMPLES") == "yes":
            one["answer"] = body
        assert shape_of(one["answer"]) == shape_of(body), one["operation"]
    if os.environ.get("HOLDFAST_WRITE_EXAMPLES") == "yes":
        FIXTURE.write_text(json.dumps(STORY, indent=1, ensure_ascii=False) + "\n")


def shape_of(answer: Any) -> Any:
    """Return the names of an answer, without what stands there."""
    if isinstance(answer, dict):
        return {name: shape_of(value) for name, value in answer.items()}
    return [shape_of(answer[0])] if isinstance(answer, list) and answer else None


def test_each_resource_has_examples_of_what_is_sent_and_answered() -> None:
    """Wherever a resource can be written, the description shows how."""
    for operation, (_, path, described) in OPERATIONS.items():
        sent = described.get("requestBody", {}).get("content", {})
        if operation.endswith("_create") and path.count("/") == 4:
            shown = [kind for kind in sent.values() if kind.get("examples")]
            assert shown, f"{operation}: what is sent has no example"
    resources = {path.split("/")[3] for _, path, _ in OPERATIONS.values()}
    shown = {
        path.split("/")[3] for _, path, told in OPERATIONS.values() if "'examples':" in str(told)
    }
    assert resources - shown == set()


def test_an_example_of_the_description_is_one_of_the_story() -> None:
    for one in STORY:
        _, _, described = OPERATIONS[one["operation"]]
        if "sent" in one:
            kinds = described["requestBody"]["content"].values()
            (example,) = [kind["examples"] for kind in kinds if "examples" in kind]
            sent = {*one["sent"], "file"} if "file" in one else {*one["sent"]}
            assert next(iter(example.values()))["value"].keys() == sent
        if one["answer"] is not None:
            answers = [a for code, a in described["responses"].items() if code.startswith("2")]
            assert answers[0]["content"]["application/json"]["examples"], one["operation"]
