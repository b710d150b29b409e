from analytics.selectors.packs import packs
from registry.models import Person
from tests import builders
from tests.analytics.services.test_packs import asked


def test_a_pack_is_seen_by_whoever_may_see_all_of_its_sites(
    quality_lead: Person, surgeon: Person, coordinator: Person, outsider: Person
) -> None:
    both = builders.person("both", north="quality_lead", south="quality_lead")
    own = asked(quality_lead)
    shared = asked(both, sites=[builders.site("north"), builders.site("south")])
    assert list(packs(both)) == [shared, own]
    assert list(packs(quality_lead)) == list(packs(surgeon)) == [own]
    assert not packs(coordinator)
    assert not packs(outsider)


def test_a_pack_of_one_surgeon_is_kept_from_the_others(
    quality_lead: Person, surgeon: Person
) -> None:
    other = builders.person("sven", north="surgeon")
    pack = asked(quality_lead, address=f"surgeon={surgeon.pk}")
    assert list(packs(surgeon)) == list(packs(quality_lead)) == [pack]
    assert not packs(other)
