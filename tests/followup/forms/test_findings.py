from typing import Any

import pytest

from followup.forms.findings import FindingsForm, choices_for, code_of, found_of
from followup.rules import findings
from followup.rules.findings import KINDS


@pytest.mark.parametrize("kind", KINDS)
def test_every_answer_to_a_finding_is_one_that_can_be_recorded(kind: str) -> None:
    codes = [code for code, _ in choices_for(KINDS[kind]) if code]
    told = [found_of(kind, code) for code in codes]
    assert [code_of(one) for one in told] == codes
    for one in told:
        assert findings.faults([one]) == {}


def form(**saved: Any) -> FindingsForm:
    offer = findings.offered_blind()
    return FindingsForm(offer=offer, least=3, asks_bridging=True, initial=saved)


def test_a_saved_union_that_the_sites_rule_calls_otherwise_is_said_to_be_so() -> None:
    counted = {"cortices_bridged": "2", "fracture_line": "visible"}
    assert form(union="united", **counted).stood_otherwise() == (
        "by the site's rule partly united: 2 of 4 cortices bridged, 3 asked for"
    )
    assert form(union="partial", **counted).stood_otherwise() == ""
    assert form(union="united", cortices_bridged="unknown").stood_otherwise() == ""
    assert form().stood_otherwise() == ""
