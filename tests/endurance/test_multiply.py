"""A service that was multiplied hangs together as the one that it was made from."""

import pytest

from config import verifying
from config.demo.load import Wanted, load
from followup.models import Review
from registry.models import Patient, Person, Site
from registry.services.invariants import Files, Looking
from tests import builders
from tests.bench import multiply
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]
TIMES = 3
# Copies of the trail are sealed by nobody, tell of the rows that they were copied from, and pictures lie in files.
NOT_COPIED = {"trail_chain", "trail_rows", "film_files"}


def test_copies_hang_together_and_no_rule_is_broken() -> None:
    builders.load_defaults()
    load(Wanted(6, 2), now=NOW, today=TODAY, whole=True)
    before = {model: model._base_manager.count() for model in multiply.copied_models()}
    people, sites = Person.objects.count(), Site.objects.count()
    multiply.multiply(TIMES)
    after = {model: model._base_manager.count() for model in multiply.copied_models()}
    assert after == {model: number * TIMES for model, number in before.items()}
    assert before[Patient]
    assert before[Review]
    assert (Person.objects.count(), Site.objects.count()) == (people, sites)
    assert multiply.broken_links() == []
    found = verifying.look_through(Looking(now=NOW, files=Files.NONE))
    broken = {one.invariant.name: one.first for one in found if not one.holds}
    assert set(broken) == NOT_COPIED, broken
