"""Several people who scan the same unknown article at the same moment make one draft of it."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from registry.models import ImplantModel, Part, Procedure
from registry.services.implants import LabelGiven, add_part, part_of
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]
AT_ONCE = 6


def test_an_unknown_article_scanned_by_many_at_once_is_one_draft() -> None:
    operations = [builders.procedure() for _ in range(AT_ONCE)]
    line = Barrier(AT_ONCE)

    def scan(operation: Procedure) -> None:
        given = part_of(LabelGiven("(01)09506000134352(10)LOT42A"), TODAY)
        line.wait(timeout=300)
        try:
            add_part(construct=operation.construct, given=given, by=operation.recorded_by, now=NOW)
        finally:
            connection.close()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        list(pool.map(scan, operations))
    assert ImplantModel.objects.get().is_draft
    assert Part.objects.count() == AT_ONCE
