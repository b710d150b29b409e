import pytest

from followup.exchange.fhir import code_systems
from tests import builders
from tests.fhir import valid

pytestmark = pytest.mark.django_db


def test_every_code_system_is_served_once_with_the_services_own_construct_types() -> None:
    builders.construct_type("HP")
    made = {one["id"]: valid(one) for one in code_systems.code_systems()}
    assert set(made) == {*code_systems.SYSTEMS, "construct-type"}
    assert [one["code"] for one in made["construct-type"]["concept"]] == ["HP"]


def test_a_code_has_the_words_of_its_system() -> None:
    assert code_systems.coded("measure", "ccd")["display"] == "Coracoclavicular distance"
    with pytest.raises(KeyError):
        code_systems.coded("measure", "hair")


def test_no_licensed_wording_is_in_any_code_system() -> None:
    # Answers are those to our own questions; of instruments there are names alone.
    codes = code_systems.SYSTEMS["answer"].concepts
    assert not [code for code in codes if code.startswith(("dash", "quickdash", "oss", "ases"))]
