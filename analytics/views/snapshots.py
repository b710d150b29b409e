import logging

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST
from kombu.exceptions import OperationalError

from analytics.selectors import snapshots as selector
from analytics.services.snapshots import is_fresh
from analytics.tasks import snapshots as tasks
from registry.selectors.visible import require

LOG = logging.getLogger(__name__)


@require_GET
def snapshots(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_outcomes")
    page, lines = selector.kept(request.GET.get("page"), timezone.now())
    newest = lines[0].snapshot if lines and page.number == 1 else None
    return render(
        request,
        "analytics/snapshots.html",
        {
            "page": page,
            "lines": lines,
            "fresh": newest is None or is_fresh(newest, timezone.localdate()),
        },
    )


@require_POST
def refresh(request: HttpRequest) -> HttpResponse:
    """Ask the background for a new snapshot; while one is being taken, no second one begins."""
    require(request.user, "see_outcomes")
    try:
        tasks.refresh.apply_async(retry=False)
    except OperationalError:
        LOG.exception("no new snapshot could be asked for")
        messages.error(request, "The background work does not answer: tell who runs this service.")
    else:
        messages.success(request, "A new snapshot is being taken. Look again in a few minutes.")
    return redirect("snapshots")
