"""What happened at the door, for those who administer the people it happened to."""

from django.db.models import Q, QuerySet

from registry.models.sign_ins import SignInEvent
from registry.selectors.people import people_here
from registry.selectors.visible import Viewer, may


def events_here(user: Viewer) -> QuerySet[SignInEvent]:
    """Return what happened to the people at sites that the user sets up, the newest first.

    Tries under a name that nobody has are about no site: whoever sets up any sees them.
    """
    if not may(user, "set_up"):
        return SignInEvent.objects.none()
    theirs = people_here(user).order_by().values("pk")
    rows = SignInEvent.objects.filter(Q(person__in=theirs) | Q(person=None))
    return rows.select_related("person", "by").order_by("-at", "-id")
