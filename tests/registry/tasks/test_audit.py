"""The background work that keeps the trail sealed."""

import pytest

from registry.models import AuditEntry
from registry.tasks.audit import seal
from tests import builders

pytestmark = pytest.mark.django_db


def test_the_task_seals_what_was_left_and_running_twice_equals_once() -> None:
    builders.site()
    seal()
    sealed = list(AuditEntry.objects.values_list("position", "hash"))
    seal()
    assert sealed == list(AuditEntry.objects.values_list("position", "hash"))
    assert all(position for position, _ in sealed)
