"""The views of the Due list that a person keeps under a name."""

from followup.models.lists import SavedFilter
from registry.errors import BadInput
from registry.models.people import Person
from registry.services import records

MOST = 30


def save_filter(*, person: Person, name: str, query: str, is_start: bool = False) -> SavedFilter:
    """Keep a view under a name of its own; the start view replaces the one before.

    Raises BadInput without a name, with one that is taken, or when there are too many.
    """
    own = SavedFilter.objects.filter(person=person)
    wanted = name.strip()
    if own.filter(name__iexact=wanted).exists():
        raise BadInput(
            {"name": f"You have a view called '{wanted}' already: delete it, or take another name."}
        )
    if own.count() >= MOST:
        raise BadInput({"name": f"You have {MOST} views already; delete one first."})
    row = SavedFilter(person=person, name=wanted, query=query)
    with records.change(by=person):
        records.check(row)
        row.save()
        if is_start:
            make_start(row=row)
    return row


def make_start(*, row: SavedFilter) -> None:
    """Let the Due page open with this view, until another is chosen; twice equals once."""
    with records.change(by=row.person):
        end_start(person=row.person)
        SavedFilter.objects.filter(pk=row.pk).update(is_start=True)


def end_start(*, person: Person) -> None:
    """Let the Due page open with everything again."""
    with records.change(by=person):
        SavedFilter.objects.filter(person=person, is_start=True).update(is_start=False)


def delete_filter(*, row: SavedFilter) -> None:
    """Forget a view."""
    with records.change(by=row.person):
        row.delete()
