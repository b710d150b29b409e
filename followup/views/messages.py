from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from followup.forms.messages import DecisionForm
from followup.models import Message
from followup.selectors import messages as selector
from followup.selectors.replies import waiting_count
from followup.selectors.visible import visible
from followup.services import undelivered
from registry.errors import HoldfastError
from registry.selectors.visible import may, require, site_ids

PER_PAGE = 50


@require_GET
def message_list(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_messages")
    asked = request.GET.get("show", "act")
    show = asked if asked in selector.SHOWS else "act"
    rows = selector.messages_seen(request.user, show)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "lines": selector.lines(request.user, list(page.object_list)),
        "show": show,
        "shows": selector.SHOWS,
        "query": f"show={show}&",
        "may_set_up": may(request.user, "set_up"),
        "replies_waiting": waiting_count(request.user),
    }
    return render(request, "followup/messages.html", context)


@require_GET
def message(request: HttpRequest, message_id: int) -> HttpResponse:
    require(request.user, "see_messages")
    row = _message(request, message_id, "see_messages")
    (line,) = selector.lines(request.user, [row])
    context = {
        "line": line,
        "steps": row.steps.select_related("by").order_by("id"),
        # It stands in three forms of the page, so its fields have no ids.
        "form": DecisionForm(initial={"version": row.version}, auto_id=False),
        "may_settle": line.is_parked and row.site_id in site_ids(request.user, "settle_messages"),
    }
    return render(request, "followup/message.html", context)


@require_POST
def send_again(request: HttpRequest, message_id: int) -> HttpResponse:
    def act(row: Message, given: dict[str, Any]) -> str:
        undelivered.send_again(
            message=row, expected_version=given["version"], by=request.user, now=timezone.now()
        )
        return "It waits to be sent again."

    return _decide(request, message_id, act)


@require_POST
def mark_delivered(request: HttpRequest, message_id: int) -> HttpResponse:
    def act(row: Message, given: dict[str, Any]) -> str:
        undelivered.mark_delivered(
            message=row,
            reason=given["reason"],
            expected_version=given["version"],
            by=request.user,
            now=timezone.now(),
        )
        return "Marked as delivered."

    return _decide(request, message_id, act)


@require_POST
def give_up(request: HttpRequest, message_id: int) -> HttpResponse:
    def act(row: Message, given: dict[str, Any]) -> str:
        task = undelivered.give_up(
            message=row,
            reason=given["reason"],
            expected_version=given["version"],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return f"Given up. A task is open: {task.words}"

    return _decide(request, message_id, act)


def _decide(
    request: HttpRequest, message_id: int, act: Callable[[Message, dict[str, Any]], str]
) -> HttpResponse:
    """Do what was decided and show the message as it is now, with the refusal where there is one."""
    require(request.user, "settle_messages")
    row = _message(request, message_id, "settle_messages")
    form = DecisionForm(request.POST)
    if form.is_valid():
        try:
            messages.success(request, act(row, form.cleaned_data))
        except HoldfastError as fault:
            messages.error(request, f"Nothing was changed. {fault}")
    else:
        messages.error(request, "Nothing was changed. Open the message again and decide anew.")
    return redirect("message", message_id=row.pk)


def _message(request: HttpRequest, message_id: int, action: str) -> Message:
    rows = visible(request.user, Message, action).select_related(*selector.WITH)
    found: Message = get_object_or_404(rows, pk=message_id)
    return found
