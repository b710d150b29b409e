"""Looking through the rules about the records, at night."""

import pytest

from config import verifying
from config.tasks.records import verify
from registry.models import JobRun
from tests import builders


@pytest.mark.django_db
def test_the_night_counts_the_rules_that_hold() -> None:
    builders.procedure()
    done = verify()
    assert done["said"] == f"{len(verifying.INVARIANTS)} rules that hold."
    run = JobRun.objects.get(job="verify_records")
    assert run.counts == {"rules that hold": len(verifying.INVARIANTS)}
