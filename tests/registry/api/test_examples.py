"""The examples in the description: sent one after another to an empty service, each is taken.

HOLDFAST_WRITE_EXAMPLES=yes writes what was answered into the fixture; read the difference.
"""

import json
import os
from typing import Any

import pytest
from django.conf import settings

from registry.api import description, examples
from tests import builders, implanted
from tests.api import Program, signed_in
from tests.config.test_api_answers import faults

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]
FIXTURE = settings.BASE_DIR / "fixtures" / examples.FIXTURE
STORY = examples.story()
OPERATIONS = {
    told["operationId"]: (method, path, told)
    for path, methods in description.description()["paths"].items()
    for method, told in methods.items()
}
# An upload of a file is no JSON; what a file answers is described by its fields.
WITHOUT = {"films_in_create"}


def asked(api: Program, one: dict[str, Any], kept: dict[str, Any]) -> Any:
    method, path, _ = OPERATIONS[one["operation"]]
    url = path.format(**{name: kept[word] for name, word in one.get("at", {}).items()})
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


def test_the_story_is_taken_as_it_is_told(api: Program) -> None:
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
    """Wherever a resource can be written as JSON, the description shows how."""
    for operation, (_, path, described) in OPERATIONS.items():
        sent = described.get("requestBody", {}).get("content", {}).get("application/json", {})
        if operation.endswith("_create") and path.count("/") == 4 and operation not in WITHOUT:
            assert sent.get("examples"), f"{operation}: what is sent has no example"
    resources = {path.split("/")[3] for _, path, _ in OPERATIONS.values()}
    shown = {
        path.split("/")[3] for _, path, told in OPERATIONS.values() if "'examples':" in str(told)
    }
    assert resources - shown <= {"film-images", "films-in", "replies"}


def test_an_example_of_the_description_is_one_of_the_story() -> None:
    for one in STORY:
        _, _, described = OPERATIONS[one["operation"]]
        if "sent" in one:
            example = described["requestBody"]["content"]["application/json"]["examples"]
            assert next(iter(example.values()))["value"].keys() == one["sent"].keys()
        if one["answer"] is not None:
            answers = [a for code, a in described["responses"].items() if code.startswith("2")]
            assert answers[0]["content"]["application/json"]["examples"], one["operation"]
