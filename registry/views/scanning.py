"""Adding parts by their labels: a list grows scan by scan, and is saved as one."""

from dataclasses import dataclass, replace
from typing import Any

from csp.decorators import csp_update
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from registry.errors import BadInput
from registry.forms.scanning import (
    PREFIX,
    LineForm,
    ScanForm,
    initial_of,
    posted_lines,
)
from registry.models.constructs import Construct, Part
from registry.models.procedures import Procedure
from registry.rules import scan_list
from registry.rules.labels import Label, LabelRefused, reading
from registry.rules.part_counts import Piece
from registry.selectors.scanned import Chosen, Seen, seen
from registry.selectors.visible import require, visible
from registry.services import construct_checks, implants
from registry.views.patients import log_read

# The decoder of the camera's pictures is WebAssembly; no other page may compile any.
with_decoder = csp_update({"script-src": ["'wasm-unsafe-eval'"]})


@dataclass(frozen=True)
class ShownLine:
    """One line of the list with its form and what is known of its label."""

    form: LineForm
    seen: Seen

    @property
    def label(self) -> Label:
        """Return the label as it is read now."""
        return self.seen.label


@require_http_methods(["GET", "POST"])
@with_decoder
def part_scan(request: HttpRequest, procedure_id: int) -> HttpResponse:
    require(request.user, "correct")
    rows = visible(request.user, Procedure, "correct").select_related(
        "injury__patient__identity", "site"
    )
    operation = get_object_or_404(rows, pk=procedure_id)
    construct = get_object_or_404(
        Construct.objects.select_related("construct_type"), procedure=operation
    )
    lines, told = lines_of(request, operation)
    saving = request.method == "POST" and request.POST.get("act") == "save"
    if saving and not lines:
        told.append("Nothing is in the list yet: scan a label first.")
    elif saving:
        saved = _save(request, construct, lines)
        if saved is not None:
            number = "1 part was" if len(saved) == 1 else f"{len(saved)} parts were"
            messages.success(request, f"{number} added.")
            return redirect("construct-correct", procedure_id=operation.pk)
    log_read(request, operation.injury.patient)
    context = {
        "procedure": operation,
        "patient": operation.injury.patient,
        "construct": construct,
        "scan_form": ScanForm(auto_id="id_%s"),
        "lines": lines,
        "told": told,
        "failed": failed(lines),
        "recorded": Part.objects.filter(construct=construct).select_related("implant_model"),
    }
    return render(request, "registry/scan.html", context)


@require_POST
def part_read(request: HttpRequest, procedure_id: int) -> HttpResponse:
    """Answer with the list after what was just scanned."""
    require(request.user, "enrol")
    rows = visible(request.user, Procedure, "enrol").select_related("injury", "site")
    operation = get_object_or_404(rows, pk=procedure_id)
    lines, told = lines_of(request, operation)
    context = {"lines": lines, "told": told, "procedure": operation}
    return render(request, "registry/_scanned.html", context)


def lines_of(
    request: HttpRequest, operation: Procedure, *, bound: bool = False
) -> tuple[list[ShownLine], list[str]]:
    """Return the list as it was sent with what was scanned since, and what there is to say of it."""
    posted = posted_lines(request.POST)
    scans = [text for text in request.POST.getlist("scan") if text.strip()]
    found = scan_list.after([line["text"] for line in posted], scans, today=timezone.localdate())
    sent = [posted[line.place] if line.place is not None else {} for line in found.lines]
    chosen = [_chosen(line.label, before) for line, before in zip(found.lines, sent, strict=True)]
    known = seen(request.user, operation, chosen)
    bound = bound or request.POST.get("act") == "save"
    shown = []
    for number, (line, before, about) in enumerate(zip(found.lines, sent, known, strict=True)):
        start = initial_of(line, before)
        prefix = f"{PREFIX}-{number}"
        form = LineForm(
            {f"{prefix}-{name}": value for name, value in start.items()} if bound else None,
            initial=start,
            prefix=prefix,
            label=line.label,
            needs_words=about.needs_words and line.label.is_whole,
            warned=bool(about.warnings),
        )
        shown.append(ShownLine(form, about))
    return shown, list(found.told)


def _chosen(label: Label, posted: dict[str, Any]) -> Chosen:
    number = str(posted.get("reading", ""))
    try:
        now = reading(label, int(number)) if number.isdecimal() else label
    except LabelRefused:
        now = label
    return Chosen(
        replace(now, readings=label.readings, doubts=label.doubts),
        batch=str(posted.get("batch", "")).strip(),
        batch_not_obtainable=bool(posted.get("batch_not_obtainable")),
    )


def parts_of(lines: list[ShownLine]) -> list[implants.PartGiven] | None:
    """Return the parts of a list that was sent; None, with the faults by their fields, if any cannot."""
    today = timezone.localdate()
    parts = []
    for line in lines:
        if not line.form.is_valid():
            continue
        try:
            parts.append(implants.part_of(line.form.given(), today))
        except BadInput as fault:
            line.form.refuse(fault)
    return parts if len(parts) == len(lines) else None


def _save(request: HttpRequest, construct: Construct, lines: list[ShownLine]) -> list[Part] | None:
    parts = parts_of(lines)
    if parts is None:
        return None
    try:
        return implants.add_parts(
            construct=construct, given=parts, by=request.user, now=timezone.now()
        )
    except BadInput as fault:
        refuse_lines(lines, fault)
        return None


def failed(lines: list[ShownLine]) -> list[ShownLine]:
    """Return the lines of a list that was sent to be saved in which something has to be put right."""
    return [line for line in lines if line.form.is_bound and line.form.errors]


def refuse_lines(lines: list[ShownLine], fault: BadInput) -> None:
    """Put each refusal of several parts by its line."""
    for name, words in fault.faults.items():
        number = name.removeprefix("part ")
        place = int(number) - 1 if number.isdecimal() else 0
        lines[place].form.add_error(None, words)


def pieces_of(lines: list[ShownLine]) -> list[Piece]:
    """Return what the lines of a list bring to the counts of a construct."""
    found = []
    for line in lines:
        number, kind = int(line.form.initial["quantity"]), line.form.initial.get("kind")
        if line.seen.model is not None and not line.seen.needs_words:
            found.append(construct_checks.piece(line.seen.model, number))
        elif kind:
            found.append(Piece(str(kind), number))
    return found
