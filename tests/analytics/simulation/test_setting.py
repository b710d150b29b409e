"""The invented valley: its sites, its people, its clinics."""

import pytest

from analytics.simulation import setting
from registry.models.sites import Role


def test_the_demo_has_two_hospitals_and_larger_settings_have_numbered_ones() -> None:
    assert [site.code for site in setting.sites(2)] == ["merrow", "tarnbridge"]
    assert [site.code for site in setting.sites(4)][2:] == ["valley-3", "valley-4"]
    assert setting.site_name(3) == "Valley Hospital 4"


@pytest.mark.parametrize("make", [setting.sites, setting.people, setting.clinics])
def test_a_setting_without_a_site_is_refused(make: object) -> None:
    with pytest.raises(ValueError, match="at least one"):
        make(0)  # type: ignore[operator]


def test_there_is_one_sign_in_for_each_role() -> None:
    held = {person.username: person.role for person in setting.PEOPLE}
    assert sorted(held[name] for name in setting.SIGN_INS) == sorted(Role.values)


@pytest.mark.parametrize("count", [1, 2, 5])
def test_everybody_who_is_pointed_to_works_there(count: int) -> None:
    staff = {person.username: person for person in setting.people(count)}
    sites = setting.sites(count)
    assert len(staff) == len(setting.people(count))
    for index, site in enumerate(sites):
        for name in (*setting.surgeons(index), *setting.readers()):
            assert site.code in staff[name].sites
    for clinic in setting.clinics(count):
        assert staff[clinic.surgeon].role == "surgeon"
        assert clinic.site in staff[clinic.surgeon].sites
    assert {code for person in staff.values() for code in person.sites} <= {s.code for s in sites}


def test_one_of_the_demo_sites_holds_a_clinic_on_whatever_day_it_starts() -> None:
    held = {clinic.weekday for clinic in setting.clinics(setting.DEMO_SITES)}
    assert held == set(range(7))
    names = [(clinic.site, clinic.name) for clinic in setting.clinics(5)]
    assert len(set(names)) == len(names)


def test_the_demo_says_that_it_is_invented() -> None:
    assert "Invented" in setting.INVENTED
