from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.protocols import CompareForm, MoveForm, TargetForm
from followup.models.protocols import ProtocolVersion
from followup.rules import steps as rules
from followup.rules.protocol_picture import picture
from followup.selectors import protocols as selector
from followup.selectors.visible import visible
from followup.services import version_moves as service
from registry.errors import BadInput
from registry.selectors.visible import require, site_ids


@require_GET
def compare(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    versions = _versions(request)
    form = CompareForm(request.GET or None, versions=versions)
    context: dict[str, Any] = {"form": form}
    if form.is_bound and form.is_valid():
        pair = [form.cleaned_data["a"], form.cleaned_data["b"]]
        earlier, later = (selector.steps_of(one) for one in pair)
        named = [f"{one} (from {one.effective_from:%d %b %Y})" for one in pair]
        context |= {
            "pair": pair,
            "lanes": named,
            "changes": rules.differences(earlier, later),
            "picture": picture(dict(zip(named, (earlier, later), strict=True))),
        }
    return render(request, "followup/setup_protocol_compare.html", context)


@require_http_methods(["GET", "POST"])
def move(request: HttpRequest, version_id: int) -> HttpResponse:
    require(request.user, "set_up")
    versions = _versions(request)
    begun = get_object_or_404(versions, pk=version_id)
    targets = versions.filter(protocol__purpose=begun.protocol.purpose).exclude(pk=begun.pk)
    chosen = TargetForm(request.GET or None, versions=targets)
    context: dict[str, Any] = {"version": begun, "choose": chosen, "done": None}
    if chosen.is_bound and chosen.is_valid():
        target = chosen.cleaned_data["to"]
        seen_at = timezone.now()
        form = MoveForm(request.POST or None, initial={"seen_at": seen_at.isoformat()})
        if request.method == "POST" and form.is_valid():
            context["done"] = _moved(request, form, begun, target)
        if context["done"]:
            form = MoveForm(
                initial={"seen_at": seen_at.isoformat(), "reason": form.cleaned_data["reason"]}
            )
        context |= {"target": target, "form": form, "preview": _preview(request, begun, target)}
    return render(request, "followup/setup_protocol_move.html", context)


def _versions(request: HttpRequest) -> Any:
    rows = visible(request.user, ProtocolVersion, "set_up")
    return rows.select_related("protocol__site", "protocol__construct_type").order_by(
        "protocol__name", "protocol_id", "-number"
    )


def _preview(
    request: HttpRequest, begun: ProtocolVersion, target: ProtocolVersion
) -> service.Preview:
    return service.preview(
        version=begun,
        protocol=target.protocol,
        steps=list(target.steps.all()),
        sites=site_ids(request.user, "set_up"),
        today=timezone.localdate(),
    )


def _moved(
    request: HttpRequest, form: MoveForm, begun: ProtocolVersion, target: ProtocolVersion
) -> service.Done | None:
    seen_at: datetime = form.cleaned_data["seen_at"]
    try:
        done = service.move(
            version=begun,
            target=target,
            sites=site_ids(request.user, "set_up"),
            reason=form.cleaned_data["reason"],
            seen_at=seen_at,
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
    except BadInput as fault:
        form.refuse(fault)
        return None
    messages.success(request, f"Moved to {target}: {done.moved} operations.")
    return done
