import pytest

from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import (
    DEFINITIONS,
    DELAYED,
    HARM_KINDS,
    LOSS,
    NONUNION,
    OF_THE_IMPLANT,
    ON_FILMS,
    UNION,
    apply,
    definitions_of,
    endpoints,
)
from analytics.endpoints.definition import REASONS
from tests.analytics.cohort import data, film, harm, on


def test_every_definition_is_named_versioned_and_says_its_source() -> None:
    for name, definition in DEFINITIONS.items():
        assert definition.id == name
        assert definition.version >= 1
        assert definition.text.endswith(".")
        assert definition.source
        assert definition.label == f"{definition.name} (version {definition.version})"


def test_published_rules_of_loss_ship_side_by_side() -> None:
    assert [row.id for row in definitions_of(LOSS)] == [
        "rise-3mm",
        "rise-3mm-confirmed",
        "ratio-25",
        "difference-5mm",
        "ratio-50",
        "doubled",
        "fixation-failure",
    ]
    remembered = [row.id for row in definitions_of(LOSS) if "from memory" in row.source]
    assert remembered == ["ratio-50", "doubled", "fixation-failure"]


def test_what_each_rule_compares_is_data() -> None:
    rules = {row.id: row for row in definitions_of(LOSS)}
    by_side = {name for name, row in rules.items() if row.reference == "both"}
    assert by_side == {"ratio-25", "ratio-50", "difference-5mm", "doubled"}
    assert {row.reference for name, row in rules.items() if name not in by_side} == {"first_film"}
    assert [name for name, row in rules.items() if row.same_view and row.same_posture] == [
        "rise-3mm",
        "rise-3mm-confirmed",
        "fixation-failure",
    ]
    assert [name for name, row in rules.items() if row.confirmed] == ["rise-3mm-confirmed"]
    assert {row.mdc_mm for name, row in rules.items() if name != "fixation-failure"} == {2.0}
    # A removal takes away nothing that a film could still show: loss found after it counts.
    assert all(row.competing == ("revision", "death") for row in rules.values())


def test_every_kind_of_harm_has_its_definition() -> None:
    for kind, name in HARM_KINDS.items():
        (definition,) = definitions_of(kind)
        assert (definition.kinds, definition.name) == ((kind,), name)
        gone = ("removal",) if kind in OF_THE_IMPLANT else ()
        assert definition.competing == (*gone, "death")
        # Letting a removal come first changed what the definition means.
        assert definition.version == 1 + len(gone)


def test_an_unknown_endpoint_is_refused_with_those_that_exist() -> None:
    with pytest.raises(
        KeyError, match="'held' is not an endpoint; choose one of loss_of_reduction"
    ):
        definitions_of("held")
    assert endpoints()[:5] == (LOSS, UNION, NONUNION, DELAYED, "any_complication")
    assert tuple(ON_FILMS) == (LOSS, UNION, NONUNION, DELAYED)


def test_the_baseline_window_closes_before_the_first_horizon_opens() -> None:
    first = HORIZONS["6w"]
    for definition in definitions_of(LOSS):
        assert definition.baseline_days < first.days - first.before_days


@pytest.mark.parametrize("definition", DEFINITIONS.values(), ids=lambda one: str(one.id))
def test_every_definition_judges_every_case_for_a_reason_that_has_words(definition: object) -> None:
    cases = [
        {"last_seen_on": on(90)},
        {"injury_kind": "ac_joint"},
        {"other_shoulder": "unknown", "patient_status": "died", "status_on": on(10)},
    ]
    given = data(cases, [film(2, 9.0, 9.0), film(90, 20.0, 9.0)], [harm(60, "infection_deep")])
    applied = apply(definition, given)  # type: ignore[arg-type]
    assert applied.verdicts.index.equals(given.cases.index)
    assert set(applied.verdicts["not_evaluable"]) <= {"", *REASONS}
