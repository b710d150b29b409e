from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from followup.forms.scores import ItemsForm
from followup.models import Score
from followup.models.reviews import Review
from followup.rules.scores import catalogue
from followup.selectors import clinic as selector
from followup.services import scores
from registry.errors import BadInput
from registry.selectors.visible import require


@require_http_methods(["GET", "POST"])
def items(request: HttpRequest, review_id: int, code: str) -> HttpResponse:
    require(request.user, "record_visit")
    review = selector.open_review(request.user, review_id)
    if review is None or code not in {*catalogue.INSTRUMENTS, *catalogue.OLDER_FORMS}:
        raise Http404
    require(request.user, "record_visit", review.site_id)
    form = ItemsForm(request.POST or None, initial={"taken_on": timezone.localdate()}, code=code)
    if request.method == "POST" and form.is_valid():
        try:
            row = _save(request, review, form)
            messages.success(request, _told(row))
            return redirect("clinic-visit", review_id=review.pk)
        except BadInput as fault:
            form.refuse(fault)
    older = catalogue.OLDER_FORMS.get(code)
    instrument = catalogue.INSTRUMENTS[older.kept_as if older else code]
    return render(
        request,
        "followup/score_items.html",
        {"review": review, "instrument": instrument, "older": older, "form": form},
    )


def _save(request: HttpRequest, review: Review, form: ItemsForm) -> Score:
    return scores.record_score(
        injury=review.procedure.injury,
        instrument=form.code,
        taken_on=form.cleaned_data["taken_on"],
        items=form.answers(),
        mode=form.cleaned_data["mode"],
        by=request.user,
        now=timezone.now(),
        today=timezone.localdate(),
    )


def _told(row: Score) -> str:
    name = catalogue.INSTRUMENTS[row.instrument].name
    if row.value is None:
        return (
            f"{name}: the answers are kept, a total is not computable: {row.not_computable_reason}."
        )
    share = f", {row.relative_pct}% of the norm ({row.relative_to})" if row.relative_to else ""
    return f"{name}: {float(row.value):g}{share}."
