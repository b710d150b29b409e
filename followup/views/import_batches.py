from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from followup.forms.imports import BackForm
from followup.models.imports import DraftState, ImportDraft
from followup.selectors import imports as found
from followup.selectors.visible import visible
from followup.services import import_pairs, import_undo
from followup.views.imports import PER_PAGE, kept, step_of, work_on
from registry.errors import BadInput, HoldfastError
from registry.models.imports import ImportBatch, ImportFate, ImportState
from registry.rules import matching
from registry.selectors.visible import require

PAIRS_PER_PAGE = 20


@require_http_methods(["GET", "POST"])
def people(request: HttpRequest, token: str) -> HttpResponse:
    draft = kept(request, token)
    page = Paginator(found.pairs_of(draft), PAIRS_PER_PAGE).get_page(request.GET.get("page"))
    if request.method == "POST":
        answers = {
            int(name.removeprefix("pair_")): value
            for name, value in request.POST.items()
            if name.startswith("pair_") and name.removeprefix("pair_").isdecimal()
        }
        said = import_pairs.answer(draft, answers=answers, by=request.user, now=timezone.now())
        if said:
            messages.success(request, f"{said} decision{'' if said == 1 else 's'} kept.")
        if said or draft.state == DraftState.LANDED:
            try:
                import_pairs.use_answers(draft, by=request.user)
            except HoldfastError as fault:
                messages.warning(request, str(fault))
                return redirect("import-check", token=token)
        if found.open_pairs(draft):
            return redirect("import-people", token=token)
        return _onward(draft)
    context = {
        "draft": draft,
        "page": page,
        "query": "",
        "pairs": found.beside(request.user, list(page)),
        "same": matching.SAME,
        "review": matching.REVIEW,
        "open_pairs": found.open_pairs(draft),
    }
    return render(request, "followup/import_people.html", context)


@require_http_methods(["GET", "POST"])
def batch(request: HttpRequest, batch_id: int) -> HttpResponse:
    require(request.user, "import_cases")
    batch = get_object_or_404(
        visible(request.user, ImportBatch, "import_cases").select_related("site", "started_by"),
        pk=batch_id,
    )
    form = BackForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            import_undo.take_back(
                batch=batch,
                reason=form.cleaned_data["reason"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
        except HoldfastError as fault:
            form.refuse(fault if isinstance(fault, BadInput) else BadInput(str(fault)))
        else:
            messages.success(request, f"{batch.file_name} was taken back.")
            return redirect("import-batch", batch_id=batch.pk)
    draft = ImportDraft.objects.filter(batch=batch).first()
    if request.GET.get("part") == "progress" and batch.state == ImportState.RUNNING:
        return render(request, "followup/_import_progress.html", {"draft": draft, "batch": batch})
    fate = request.GET.get("fate", ImportFate.REFUSED)
    page = Paginator(found.lines_of(batch, fate), PER_PAGE).get_page(request.GET.get("page"))
    context: dict[str, Any] = {
        "batch": batch,
        "draft": draft,
        "form": form,
        "page": page,
        "query": f"fate={fate}&" if fate in ImportFate.values else "",
        "fate": ImportFate(fate).label if fate in ImportFate.values else ImportFate.REFUSED.label,
        "may_undo": batch.state in (ImportState.DONE, ImportState.PARTIAL)
        or import_undo.stopped_by_fault(batch, now=timezone.now()).exists(),
        "builds": import_undo.what_builds_on(batch) if batch.rows_landed else [],
    }
    return render(request, "followup/import_batch.html", context)


def _onward(draft: ImportDraft) -> HttpResponse:
    """Go on with a file about which everything is decided; when it has landed whole, it is gone."""
    batch_id, token = draft.batch_id, draft.token
    work_on(draft)
    if batch_id is not None:
        return redirect("import-batch", batch_id=batch_id)
    return redirect(step_of(draft), token=token)
