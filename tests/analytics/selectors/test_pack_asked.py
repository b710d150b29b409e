import pytest

from tests.analytics.records import held, lost
from tests.analytics.selectors.test_pack_sections import asked

pytestmark = pytest.mark.usefixtures("defaults")


def test_another_endpoint_takes_its_own_definition_and_the_cohort_stays() -> None:
    held()
    ask = asked(definition="ratio-50", horizon="6m", neer="IIB")
    other = ask.view("union")
    assert (ask.view().definition.id, other.definition.endpoint) == ("ratio-50", "union")
    assert (other.rule.neer, other.rule.horizon) == ("IIB", "6m")


def test_how_the_cohort_is_followed_is_worked_out_once() -> None:
    lost()
    ask = asked()
    assert ask.following is ask.following
    assert ask.following.result.total.events == 1


def test_captions_name_cohort_cut_off_and_groups() -> None:
    about = asked(by="site", neer="IIB").about
    assert about.by == "site"
    assert about.caption("Rates", "") == (
        "Rates. Cohort: index procedures of Neer class IIB. Data up to 25 Nov 2026."
    )
