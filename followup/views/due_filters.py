from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from followup.forms.due_filters import SaveFilterForm, wanted_of
from followup.models.lists import SavedFilter
from followup.services import saved_filters as service
from registry.errors import BadInput
from registry.selectors.visible import require


@require_POST
def save(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_due")
    form = SaveFilterForm(request.POST)
    query = wanted_of(QueryDict(request.POST.get("query", "")[:300])).address()
    if form.is_valid():
        try:
            row = service.save_filter(
                person=request.user,
                name=form.cleaned_data["name"],
                query=query,
                is_start=form.cleaned_data["is_start"],
            )
            messages.success(request, f"Kept as '{row}'.")
        except BadInput as fault:
            messages.error(request, " ".join(fault.faults.values()))
    else:
        messages.error(request, "Give the view a name of at most 60 letters; nothing was kept.")
    return redirect(f"{reverse('due')}?{query}")


@require_POST
def start(request: HttpRequest, filter_id: int) -> HttpResponse:
    row = _own(request, filter_id)
    if row.is_start:
        service.end_start(person=request.user)
        messages.success(request, "Due opens with everything again.")
    else:
        service.make_start(row=row)
        messages.success(request, f"Due opens with '{row}' from now on.")
    return redirect(f"{reverse('due')}?{row.query}")


@require_POST
def delete(request: HttpRequest, filter_id: int) -> HttpResponse:
    row = _own(request, filter_id)
    service.delete_filter(row=row)
    messages.success(request, f"'{row.name}' is forgotten.")
    return redirect(f"{reverse('due')}?show=all")


def _own(request: HttpRequest, filter_id: int) -> SavedFilter:
    require(request.user, "see_due")
    row: SavedFilter = get_object_or_404(SavedFilter, pk=filter_id, person=request.user)
    return row
