import pytest

from registry.models.sites import Role
from registry.rules import roles


def test_the_roles_are_those_that_a_membership_can_hold() -> None:
    assert tuple(Role.values) == roles.ROLES


def test_every_action_belongs_to_known_roles_and_at_least_one() -> None:
    assert all(held and held <= set(roles.ROLES) for held in roles.TABLE.values())


def test_every_action_has_a_sentence_of_its_own() -> None:
    words = [right.words for right in roles.RIGHTS.values()]
    assert len(set(words)) == len(words)
    assert all(len(said.split()) > 2 and said[0].islower() for said in words)


def test_the_matrix_says_for_each_action_and_role_whether_it_is_permitted() -> None:
    head, _, *rows = roles.matrix()
    named = [cell.strip().replace(" ", "_") for cell in head.strip("|").split("|")][1:]
    assert named == list(roles.ROLES)
    assert len(rows) == len(roles.TABLE)
    for (action, right), row in zip(roles.RIGHTS.items(), rows, strict=True):
        words, *cells = (cell.strip() for cell in row.strip("|").split("|"))
        assert words == right.words
        assert {r for r, cell in zip(named, cells, strict=True) if cell} == roles.TABLE[action]


def test_names_are_for_those_who_look_after_patients() -> None:
    assert roles.roles_with("see_identity") == roles.CLINICAL == roles.roles_with("see_patient")


def test_every_role_can_do_something() -> None:
    assert frozenset().union(*roles.TABLE.values()) == set(roles.ROLES)


@pytest.mark.parametrize(
    ("held", "action"),
    [
        (["coordinator"], "see_due"),
        (["coordinator"], "book"),
        (["surgeon"], "record_visit"),
        (["film_reader"], "read_film"),
        (["quality_lead"], "see_outcomes"),
        (["administrator"], "set_up"),
        (["film_reader", "coordinator"], "see_identity"),
    ],
)
def test_a_role_opens_its_own_doors(held: list[str], action: str) -> None:
    assert roles.allowed(held, action)


@pytest.mark.parametrize(
    ("held", "action"),
    [
        (["quality_lead"], "see_identity"),
        (["film_reader"], "see_identity"),
        (["film_reader"], "see_patient"),
        (["administrator"], "see_identity"),
        (["administrator"], "see_outcomes"),
        (["coordinator"], "record_visit"),
        (["coordinator"], "decide_hardware"),
        (["surgeon"], "set_up"),
        ([], "see_due"),
        (["somebody"], "see_due"),
    ],
)
def test_a_role_opens_no_other_door(held: list[str], action: str) -> None:
    assert not roles.allowed(held, action)


def test_an_action_that_does_not_exist_is_an_error() -> None:
    with pytest.raises(KeyError):
        roles.allowed(["administrator"], "see_everything")
    with pytest.raises(KeyError):
        roles.roles_with("see_everything")


def test_who_may_is_what_the_table_says() -> None:
    assert roles.roles_with("decide_hardware") == {"surgeon"}
