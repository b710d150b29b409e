import hashlib
import json
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.protocols import OwnProtocolForm, Steps, VersionForm, initial_of
from followup.models.protocols import Protocol, ProtocolStep, ProtocolVersion
from followup.rules import steps as rules
from followup.rules.protocol_picture import picture
from followup.selectors import protocols as selector
from followup.selectors.visible import visible
from followup.services import protocols as service
from followup.services.version_moves import Preview, followers, preview
from registry.errors import BadInput, NotAllowed, StaleVersion
from registry.models.sites import Site
from registry.selectors.visible import require, site_ids
from registry.views.conflicts import conflict_of


@require_GET
def protocols(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    lines = selector.protocol_lines(request.user, timezone.localdate())
    return render(request, "followup/setup_protocols.html", {"lines": lines})


@require_GET
def version(request: HttpRequest, version_id: int) -> HttpResponse:
    row = _version(request, version_id)
    before = selector.version_before(row)
    steps = selector.steps_of(row)
    return render(
        request,
        "followup/setup_protocol.html",
        {
            "version": row,
            "line": selector.standing_of(row, timezone.localdate()),
            "applies_to": selector.applies_to(row.protocol),
            "steps": [rules.in_words(step) for step in steps],
            "before": before,
            "changes": rules.differences(selector.steps_of(before), steps) if before else (),
            "made_by": selector.maker_of(row),
            "operations": followers(row, site_ids(request.user, "set_up")).count(),
            "picture": picture({str(row): steps}) if steps else None,
            "may_change": selector.may_change(request.user, row.protocol),
        },
    )


@require_http_methods(["GET", "POST"])
def version_new(request: HttpRequest, protocol_id: int) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, Protocol, "set_up").select_related("site", "construct_type")
    protocol = get_object_or_404(rows, pk=protocol_id)
    if not selector.may_change(request.user, protocol):
        raise NotAllowed(
            f"'{protocol}' is shared by every site; only somebody who administers all of them "
            "changes it. Make a protocol of your own from it."
        )
    latest = protocol.versions.prefetch_related("steps").first()
    form = VersionForm(
        request.POST or None,
        initial={"version": latest.number, "effective_from": timezone.localdate()},
    )

    def save(steps: Any) -> str:
        made = service.add_version(
            protocol=protocol,
            effective_from=form.cleaned_data["effective_from"],
            source_note=form.cleaned_data["source_note"],
            steps=steps.values(),
            by=request.user,
            now=timezone.now(),
            expected_latest=form.cleaned_data["version"],
        )
        return f"Saved: {made}."

    heading = f"A new version of '{protocol}'"
    return _steps_page(request, form, latest, heading, save, lambda: protocol)


@require_http_methods(["GET", "POST"])
def protocol_own(request: HttpRequest, version_id: int) -> HttpResponse:
    begun = _version(request, version_id)
    form = OwnProtocolForm(
        request.POST or None,
        sites=visible(request.user, Site, "set_up"),
        initial={
            "effective_from": timezone.localdate(),
            "construct_type": begun.protocol.construct_type,
        },
    )

    def own() -> Protocol:
        names = ("name", "site", "construct_type")
        given = {name: form.cleaned_data[name] for name in names}
        return Protocol(purpose=begun.protocol.purpose, **given)

    def save(steps: Any) -> str:
        made = service.add_protocol(
            protocol=own(),
            effective_from=form.cleaned_data["effective_from"],
            source_note=form.cleaned_data["source_note"],
            steps=steps.values(),
            by=request.user,
            now=timezone.now(),
        )
        return f"Saved: {made}."

    return _steps_page(request, form, begun, f"A protocol of our own, from '{begun}'", save, own)


def _version(request: HttpRequest, version_id: int) -> ProtocolVersion:
    require(request.user, "set_up")
    rows = visible(request.user, ProtocolVersion, "set_up").select_related(
        "protocol__site", "protocol__construct_type"
    )
    row: ProtocolVersion = get_object_or_404(rows.prefetch_related("steps"), pk=version_id)
    return row


def _steps_page(
    request: HttpRequest,
    form: Any,
    begun: ProtocolVersion,
    heading: str,
    save: Callable[[Any], str],
    whose: Callable[[], Protocol],
) -> HttpResponse:
    """Show the steps to change; add room for one, show what changes, or save, by the button.

    Only what was looked at is saved: the button sends a mark of what the preview was about.
    """
    earlier = selector.steps_of(begun)
    initial = None if request.POST else [initial_of(step) for step in earlier]
    steps = Steps(request.POST or None, initial=initial, prefix="steps")
    conflict, looked = None, None
    if "add" in request.POST:
        form, steps = _as_typed(form), steps.with_one_more()
    elif request.method == "POST" and form.is_valid() and steps.is_valid():
        mark = _mark(form, steps)
        if "save" in request.POST and request.POST.get("looked") == mark:
            done, conflict = _try_to_save(request, form, steps, begun, save)
            if done:
                return redirect("setup-protocols")
        if not form.errors:
            looked = _looked(request, begun, steps, whose()) | {"mark": mark}
    context = {
        "form": form,
        "steps": steps,
        "heading": heading,
        "conflict": conflict,
        "looked": looked,
        "faults": _faults(form, steps),
        "begun": begun,
    }
    status = 409 if conflict else 200
    return render(request, "followup/setup_protocol_steps.html", context, status=status)


def _mark(form: Any, steps: Any) -> str:
    """Return what tells one content of the page from another."""
    typed = {name: str(value) for name, value in form.cleaned_data.items() if name != "version"}
    content = json.dumps([typed, steps.values()], sort_keys=True, default=str)
    return hashlib.sha256(content.encode()).hexdigest()


def _looked(
    request: HttpRequest, begun: ProtocolVersion, steps: Any, protocol: Protocol
) -> dict[str, Any]:
    """Return what the steps change, and what they would do to those who follow the earlier ones."""
    earlier = selector.steps_of(begun)
    later = [rules.StepFacts(**one) for one in steps.values()]
    lanes = [str(begun), "as typed here"]
    found: Preview = preview(
        version=begun,
        protocol=protocol,
        steps=[ProtocolStep(**one) for one in steps.values()],
        sites=site_ids(request.user, "set_up"),
        today=timezone.localdate(),
    )
    return {
        "changes": rules.differences(earlier, later),
        "preview": found,
        "lanes": lanes,
        "picture": picture(dict(zip(lanes, (earlier, later), strict=True))),
    }


def _try_to_save(
    request: HttpRequest,
    form: Any,
    steps: Any,
    begun: ProtocolVersion,
    save: Callable[[Any], str],
) -> tuple[bool, dict[str, Any] | None]:
    try:
        messages.success(request, save(steps))
        return True, None
    except StaleVersion as fault:
        latest = begun.protocol.versions.prefetch_related("steps").first()
        saved = {name: getattr(latest, name) for name in ("effective_from", "source_note")}
        conflict = conflict_of(form, saved, fault)
        typed = [rules.StepFacts(**one) for one in steps.values()]
        conflict["differences"] += [
            {"label": change.label, "theirs": change.before, "yours": change.after}
            for change in rules.differences(selector.steps_of(latest), typed)
        ]
        return False, conflict
    except BadInput as fault:
        form.refuse(fault)
    return False, None


def _as_typed(form: Any) -> Any:
    """Return a form with what was typed, not yet checked."""
    typed = {name: form[name].value() for name in form.fields}
    form.is_bound = False
    form.initial = typed
    return form


def _faults(form: Any, steps: Any) -> list[dict[str, str]]:
    """Return every refusal with the field it belongs to, for the list on top of the page."""
    if not form.is_bound:
        return []
    whole = [*form.non_field_errors(), *steps.non_form_errors()]
    faults = [{"field": "", "words": words} for words in whole]
    for one in (form, *steps.forms):
        for field in one:
            where = "" if one is form else f"{one['name'].value() or 'New step'}: "
            faults += [
                {"field": field.id_for_label, "words": f"{where}{field.label}: {words}"}
                for words in field.errors
            ]
    return faults
