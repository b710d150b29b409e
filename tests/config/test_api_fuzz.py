"""The interface under a fuzzer: no fault of the server, and no answer that is not described.

A served process answers what schemathesis makes of the description, by HTTP, as somebody with every
role. HOLDFAST_FUZZ_EXAMPLES=200 asks more of each operation, at the edges of every value besides.
"""

import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from knox.models import get_token_model

from tests import builders, world

pytestmark = [
    pytest.mark.timeout(4500),
    pytest.mark.needs_postgres,
    pytest.mark.django_db(transaction=True),
]
CHECKS = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
    "unsupported_method",
)


def test_what_a_fuzzer_sends_is_answered_as_described(
    live_server: Any, tmp_path: Path, time_machine: Any
) -> None:
    more = os.environ.get("HOLDFAST_FUZZ_EXAMPLES", "")
    builders.load_defaults()
    with_all_roles = builders.person("evan", north=world.ALL_ROLES)
    time_machine.move_to(builders.NOW)
    world.one_of_each("north")
    _, token = get_token_model().objects.create(with_all_roles, timedelta(days=365 * 50))
    found = subprocess.run(
        [
            *(sys.executable, "-m", "schemathesis.cli", "run"),
            f"{live_server.url}/api/v1/schema.json",
            *("--header", f"Authorization: Token {token}"),
            *("--checks", ",".join(CHECKS)),
            *("--max-examples", more or "6"),
            *("--phases", "examples,coverage,fuzzing,stateful" if more else "examples,fuzzing"),
            *("--generation-deterministic", "--workers", "1", "--no-color"),
        ],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        timeout=4000 if more else 800,
    )
    assert found.returncode == 0, found.stdout[-20_000:] + found.stderr[-2000:]
