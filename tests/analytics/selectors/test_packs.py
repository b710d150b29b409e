import pytest

from analytics.models import Pack
from analytics.models.packs import FileKind
from analytics.selectors.packs import kind_for, packs
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


@pytest.mark.parametrize(
    ("shown", "lead", "asker", "other"),
    [
        ("none", "pdf", "pdf", "pdf"),
        ("own", "pdf_named", "pdf_named", "pdf"),
        ("all", "pdf_named", "pdf", "pdf"),
    ],
)
def test_points_of_surgeons_are_handed_to_those_who_may_see_them(
    quality_lead: Person, surgeon: Person, shown: str, lead: str, asker: str, other: str
) -> None:
    sven = builders.person("sven", north="surgeon")
    pack = asked(surgeon)
    Pack.objects.filter(pk=pack.pk).update(surgeons=shown)
    pack.refresh_from_db()
    found = [kind_for(one, pack, FileKind.PDF) for one in (quality_lead, surgeon, sven)]
    assert found == [lead, asker, other]


def test_a_lead_of_one_of_two_sites_gets_no_points_of_both(quality_lead: Person) -> None:
    both = builders.person("both", north="quality_lead", south="quality_lead")
    pack = asked(both, sites=[builders.site("north"), builders.site("south")])
    Pack.objects.filter(pk=pack.pk).update(surgeons="all")
    pack.refresh_from_db()
    half = builders.person("half", north="quality_lead", south="surgeon")
    assert kind_for(both, pack, FileKind.DOCUMENT) == FileKind.DOCUMENT_NAMED
    assert kind_for(half, pack, FileKind.DOCUMENT) == FileKind.DOCUMENT
