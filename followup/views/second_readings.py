from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from followup.models.readings import WantedReading
from followup.selectors.second_readings import wanted_reading
from followup.services import second_readings as service
from followup.views.films import TURNS
from registry.errors import IllegalTransition, StaleVersion
from registry.selectors.visible import require


@require_POST
def take(request: HttpRequest, wanted_id: int) -> HttpResponse:
    wanted = _wanted(request, wanted_id)
    try:
        service.take(
            wanted=wanted, by=request.user, now=timezone.now(), expected_version=wanted.version
        )
    except (IllegalTransition, StaleVersion):
        messages.info(request, f"{wanted} is taken or done already; take another one.")
        return redirect(_list(wanted))
    return redirect("films-read", wanted.film_id)


@require_POST
def give_back(request: HttpRequest, wanted_id: int) -> HttpResponse:
    wanted = _wanted(request, wanted_id)
    try:
        service.give_back(
            wanted=wanted, by=request.user, now=timezone.now(), expected_version=wanted.version
        )
    except (IllegalTransition, StaleVersion):
        messages.info(request, f"{wanted} is not waiting for you any more.")
    else:
        messages.success(request, f"Given back: {wanted}. It waits for another reader.")
    return redirect(_list(wanted))


def _wanted(request: HttpRequest, wanted_id: int) -> WantedReading:
    require(request.user, "read_film")
    wanted = wanted_reading(request.user, wanted_id)
    if wanted is None:
        raise Http404
    return wanted


def _list(wanted: WantedReading) -> str:
    name = next(name for name, turn in TURNS.items() if turn == wanted.turn)
    return f"{reverse('films')}?show={name}"
