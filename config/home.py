"""The start page: everybody lands in the room that is theirs."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from config.navigation import first_room


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """Send a person to their first room, or say that they hold no role yet."""
    room = first_room(request.user, timezone.localdate())
    if room is None:
        return render(request, "no_role.html")
    return redirect(room.url_name)
