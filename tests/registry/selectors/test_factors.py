"""Which second factors somebody has."""

import pytest

from registry.selectors.factors import factors_of, has_factor
from tests import builders
from tests.factored import with_authenticator, with_recovery_codes

pytestmark = pytest.mark.django_db


def test_recovery_codes_alone_are_no_second_factor() -> None:
    selma = builders.person("selma")
    with_recovery_codes(selma)
    assert not has_factor(selma)
    with_authenticator(selma)
    assert has_factor(selma)
    assert not has_factor(builders.person("connie"))


def test_they_are_named_in_words() -> None:
    selma = with_authenticator(builders.person("selma"))
    with_recovery_codes(selma)
    assert [one.words for one in factors_of(selma)] == ["an authenticator", "recovery codes"]
