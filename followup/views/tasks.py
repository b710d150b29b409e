from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.tasks import CloseTaskForm
from followup.models.tasks import Task, TaskKind
from followup.selectors.replies import waiting_count
from followup.selectors.tasks import open_tasks
from followup.selectors.visible import visible
from followup.services import tasks as service
from registry.errors import HoldfastError, StaleVersion
from registry.selectors.visible import may, require, site_ids
from registry.views.patients import log_list, log_read

PER_PAGE = 50


@require_GET
def tasks(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_due")
    kind = request.GET.get("kind", "")
    kind = kind if kind in TaskKind.values else ""
    page = Paginator(open_tasks(request.user, kind), PER_PAGE).get_page(request.GET.get("page"))
    # An erased patient stands there by the key alone.
    log_list(request, [one.patient for one in page if hasattr(one.patient, "identity")])
    context = {
        "page": page,
        "kind": kind,
        "kinds": TaskKind.choices,
        "query": f"kind={kind}&" if kind else "",
        "today": timezone.localdate(),
        "replies_waiting": waiting_count(request.user),
        "may_trace": may(request.user, "trace"),
        "may_close_at": site_ids(request.user, "record_contact"),
    }
    return render(request, "followup/tasks.html", context)


@require_http_methods(["GET", "POST"])
def close(request: HttpRequest, task_id: int) -> HttpResponse:
    require(request.user, "record_contact")
    rows = visible(request.user, Task, "record_contact").select_related("patient__identity", "site")
    task = get_object_or_404(rows, pk=task_id)
    form = CloseTaskForm(request.POST or None, initial={"version": task.version})
    if request.method == "POST" and form.is_valid():
        try:
            service.close_task(
                task=task,
                note=form.cleaned_data["note"],
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
            )
        except HoldfastError as fault:
            form.add_error(None, _refusal(fault))
            # The next try is over what is saved now.
            task.refresh_from_db()
            form.data = {**form.data.dict(), "version": str(task.version)}
        else:
            messages.success(request, "The task is done.")
            return redirect("tasks")
    if hasattr(task.patient, "identity"):
        log_read(request, task.patient)
    return render(request, "followup/task_close.html", {"task": task, "form": form})


def _refusal(fault: HoldfastError) -> str:
    if isinstance(fault, StaleVersion):
        return "Somebody else changed this task meanwhile; it is shown above as it is now."
    return str(fault)
