from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from analytics.exchange import dataset as files
from analytics.rules.dictionary import ENTRIES
from analytics.selectors import outcomes as selector
from analytics.views.asked import choices, given
from registry.selectors.visible import require
from registry.services import audit
from registry.views.step_up import confirmed


@require_http_methods(["GET", "POST"])
@confirmed
def dataset(request: HttpRequest) -> HttpResponse:
    """Show what the data set of a cohort holds; sent as a form, hand it out and write that down."""
    require(request.user, "take_data")
    view, message = given(request)
    kind = request.POST.get("kind", "csv")
    if request.method == "GET" or message or kind not in files.KINDS:
        told = {"entries": ENTRIES, "message": message, "number": len(view.data.cases)}
        wrong = request.method == "POST"
        page = {**choices(request, view), **told}
        return render(request, "analytics/dataset.html", page, status=400 if wrong else 200)
    made = files.tables(view.frames, view.data.cases)
    about = {"rows": {name: len(table) for name, table in made.items()}}
    content = files.packed(made, {**selector.provenance(view), **about}, kind)
    audit.record_taken(
        by=request.user,
        table=view.snapshot._meta.db_table,
        row_id=str(view.snapshot.pk),
        now=timezone.now(),
        what=f"data set taken: {view.rule.words()}",
    )
    answer = HttpResponse(content, content_type="application/zip")
    name = f"holdfast-{view.snapshot.content_hash[:12]}-{kind}.zip"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
