from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from followup.forms.imports import ColumnsForm, DaysForm, TextForm, WordsForm, our_fields
from followup.models.imports import DraftState, ImportDraft
from followup.rules import column_proposal
from followup.services import import_drafts
from followup.views.imports import kept, step_of, work_on
from registry.errors import BadInput, IllegalTransition


@require_http_methods(["GET", "POST"])
def text(request: HttpRequest, token: str) -> HttpResponse:
    draft = kept(request, token)
    if not _may_settle(draft):
        return redirect(step_of(draft), token=token)
    form = TextForm(
        request.POST or None,
        previews=draft.previews,
        initial={"encoding": draft.encoding, "separator": draft.separator},
    )
    if request.method == "POST" and form.is_valid():
        settle = partial(import_drafts.settle_text, draft, **form.cleaned_data)
        if answer := _settled(request, draft, form, settle):
            return answer
    return render(request, "followup/import_text.html", {"draft": draft, "form": form})


@require_http_methods(["GET", "POST"])
def columns(request: HttpRequest, token: str) -> HttpResponse:
    draft = kept(request, token)
    if not _is_read(draft):
        return redirect(step_of(draft), token=token)
    listed = import_drafts.codes_at(draft.site)
    form = ColumnsForm(
        request.POST or None,
        header=draft.header,
        settled=import_drafts.translation_of(draft),
        listed=listed,
    )
    if request.method == "POST" and _may_settle(draft) and form.is_valid():
        settle = partial(
            import_drafts.settle_columns,
            draft,
            fields=form.settled_fields(),
            same_for_all=form.settled_for_all(),
            by=request.user,
            now=timezone.now(),
        )
        if answer := _settled(request, draft, form, settle):
            return answer
    survey = import_drafts.survey_of(draft)
    proposals = column_proposal.propose(draft.header, list(survey.values()), listed)
    rows = [
        (field, survey[name].examples[:3], survey[name].filled, one)
        for field, name, one in zip(form.columns(), draft.header, proposals, strict=True)
    ]
    context: dict[str, Any] = {
        "draft": draft,
        "form": form,
        "rows": rows,
        "may_settle": _may_settle(draft),
        "shared_list": our_fields() if form.shares_list else None,
    }
    return render(request, "followup/import_columns.html", context)


@require_http_methods(["GET", "POST"])
def days(request: HttpRequest, token: str) -> HttpResponse:
    draft = kept(request, token)
    if not _is_read(draft):
        return redirect(step_of(draft), token=token)
    form = DaysForm(
        request.POST if request.method == "POST" else None,
        questions=import_drafts.day_questions(draft),
        this_year=timezone.localdate().year,
    )
    if request.method == "POST" and _may_settle(draft) and form.is_valid():
        settle = partial(
            import_drafts.settle_days,
            draft,
            styles=form.styles(),
            decimals=form.decimals(),
            by=request.user,
            now=timezone.now(),
        )
        if answer := _settled(request, draft, form, settle):
            return answer
    context = {"draft": draft, "form": form, "may_settle": _may_settle(draft)}
    return render(request, "followup/import_days.html", context)


@require_http_methods(["GET", "POST"])
def words(request: HttpRequest, token: str) -> HttpResponse:
    draft = kept(request, token)
    if not _is_read(draft):
        return redirect(step_of(draft), token=token)
    form = WordsForm(
        request.POST if request.method == "POST" else None,
        questions=import_drafts.all_words(draft),
    )
    if request.method == "POST" and _may_settle(draft) and form.is_valid():
        settle = partial(
            import_drafts.settle_words,
            draft,
            words=form.words(),
            by=request.user,
            now=timezone.now(),
        )
        if answer := _settled(request, draft, form, settle):
            return answer
    context = {"draft": draft, "form": form, "may_settle": _may_settle(draft)}
    return render(request, "followup/import_words.html", context)


def _settled(
    request: HttpRequest, draft: ImportDraft, form: Any, settle: Callable[[], object]
) -> HttpResponse | None:
    """Settle one step and lead to the next; None where the form has to be shown again."""
    try:
        settle()
    except BadInput as fault:
        form.refuse(fault)
        return None
    except IllegalTransition as fault:
        # The file has gone on meanwhile: show how it stands now.
        messages.warning(request, str(fault))
        return redirect("import-check", token=draft.token)
    work_on(draft)
    return redirect(step_of(draft), token=draft.token)


def _is_read(draft: ImportDraft) -> bool:
    """Whether the file was read to its end, so that there are columns to speak of."""
    return bool(draft.header) and draft.state != DraftState.READING


def _may_settle(draft: ImportDraft) -> bool:
    """Whether nothing of the file was imported yet, and nobody is at it."""
    return draft.batch_id is None and not (draft.at_work and draft.holder)
