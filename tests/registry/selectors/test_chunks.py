import pytest

from registry.models import Site
from registry.selectors.chunks import in_chunks

pytestmark = pytest.mark.django_db


@pytest.fixture
def sites() -> list[Site]:
    rows = [Site(code=f"s{number}", name=f"Site {number}") for number in range(5)]
    return Site.objects.bulk_create(rows)


def test_every_row_comes_once_in_the_order_of_the_keys(sites: list[Site]) -> None:
    found = list(in_chunks(Site.objects.order_by("-name"), size=2))
    assert [[site.code for site in chunk] for chunk in found] == [
        ["s0", "s1"],
        ["s2", "s3"],
        ["s4"],
    ]


def test_what_has_left_the_queryset_meanwhile_is_left_out(sites: list[Site]) -> None:
    walk = in_chunks(Site.objects.filter(is_active=True), size=2)
    next(walk)
    Site.objects.filter(code="s3").update(is_active=False)
    assert [site.code for chunk in walk for site in chunk] == ["s2", "s4"]
