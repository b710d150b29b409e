"""One hospital of the demo has a protocol in two versions, with patients on each."""

import pytest

from config.demo.load import Wanted, load
from followup.models import Protocol, ProtocolVersion
from followup.services import version_moves
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_there_is_something_to_compare_and_somebody_to_move() -> None:
    load(Wanted(procedures=150), now=NOW, today=TODAY, whole=True)
    protocol = Protocol.objects.get(site__isnull=False)
    assert protocol.site is not None
    old, new = ProtocolVersion.objects.filter(protocol=protocol).order_by("number")
    sites = [protocol.site.pk]
    assert version_moves.followers(new, sites).exists()
    shown = version_moves.preview(
        version=old, protocol=protocol, steps=list(new.steps.all()), sites=sites, today=TODAY
    )
    assert shown.operations > 5
    # Both ways: some reviews come to other days, some keep theirs.
    assert shown.total.moved > 0
    assert shown.total.kept > 0
    for operation in version_moves.followers(new, sites):
        assert operation.performed_on >= new.effective_from
