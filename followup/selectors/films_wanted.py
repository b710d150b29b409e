"""Which reviews still want a film: what rules/requirements.py says of films, asked of the database.

A page orders and pages by it, so that it cannot be computed line by line.
"""

from functools import reduce
from operator import or_

from django.db.models import Exists, F, OuterRef, Q, TextField, Value
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast, Coalesce, Trim
from django.db.models.lookups import Contains, Exact

from followup.models.films import Film, View
from followup.rules.requirements import BOTH, INJURED, OTHER


def wants_film(path: str = "") -> Q:
    """Say whether a review lacks a film that its step asks for, by view and by side.

    Films inside the window count, and what is marked not obtainable with a reason is not wanted.
    `path` leads from the row to the review, such as 'review__'.
    """
    return reduce(or_, (_wants_view(path, str(view)) for view in View.values))


def _wants_view(path: str, view: str) -> Q:
    # A list of codes as text holds a code in its quotation marks, on either database.
    asked = Q(Contains(Cast(F(f"{path}step__film_views"), TextField()), f'"{view}"'))
    sides = KeyTextTransform(view, F(f"{path}step__film_sides"))
    side = Coalesce(sides, Value(INJURED), output_field=TextField())
    inside = Film.objects.filter(
        injury=OuterRef(f"{path}procedure__injury"),
        view=view,
        taken_on__gte=OuterRef(f"{path}opens_on"),
        taken_on__lte=OuterRef(f"{path}closes_on"),
    )
    lacks = ~Q(Exact(side, OTHER)) & ~Exists(inside)
    both = Q(Exact(side, BOTH)) | Q(Exact(side, OTHER))
    shows_both = Q(Exists(inside.filter(shows_both_sides=True)))
    lacks_other = both & _is_wanted(path, f"film_other:{view}") & ~shows_both
    # A film that cannot be had cannot show the other side either.
    return asked & _is_wanted(path, f"film:{view}") & (lacks | lacks_other)


def _is_wanted(path: str, item: str) -> Q:
    reason = KeyTextTransform(item, F(f"{path}not_obtainable"))
    said = Trim(Coalesce(reason, Value(""), output_field=TextField()))
    return Q(Exact(said, Value("")))
