import pytest

from analytics.models import Signal
from analytics.selectors.pack_signals import signals
from registry.models import Person
from tests import builders
from tests.analytics import monitored
from tests.builders import TODAY

pytestmark = pytest.mark.django_db


def test_open_signals_of_the_packs_sites_are_listed(outsider: Person) -> None:
    site = builders.site()
    monitored.signal(site)
    made = signals(monitored.lead(), [site], TODAY)
    assert len(made.tables[0].rows) == Signal.objects.count()
    assert str(Signal.objects.first().design) in {row[0] for row in made.tables[0].rows}
    assert signals(outsider, [builders.site("south")], TODAY).tables == ()
    assert signals(outsider, [site], TODAY).tables == ()
