from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from followup.models import Review
from followup.selectors import clinic, drafts
from followup.services import drafts as service
from registry.selectors.visible import require


@require_POST
def keep(request: HttpRequest, review_id: int) -> HttpResponse:
    review = _review(request, review_id)
    seen = request.POST.get("version", "")
    kept = service.keep_draft(
        review=review,
        typed=request.POST.dict(),
        seen_version=int(seen) if seen.isdecimal() and len(seen) < 9 else review.version,
        by=request.user,
        now=timezone.now(),
    )
    said = f"Kept as your draft at {timezone.localtime():%H:%M:%S}." if kept else ""
    return HttpResponse(said, content_type="text/plain; charset=utf-8")


@require_POST
def forget(request: HttpRequest, review_id: int) -> HttpResponse:
    review = _review(request, review_id)
    service.forget_draft(review=review, by=request.user)
    return redirect("clinic-visit", review_id=review.pk)


@require_POST
def presence(request: HttpRequest, review_id: int) -> HttpResponse:
    review, now = _review(request, review_id), timezone.now()
    service.mark_present(review=review, by=request.user, now=now)
    others = drafts.others_at(request.user, review, now)
    return render(request, "followup/_visit_presence.html", {"others": others})


def _review(request: HttpRequest, review_id: int) -> Review:
    review = clinic.open_review(request.user, review_id)
    if review is None:
        require(request.user, "record_visit")
        raise Http404
    require(request.user, "record_visit", review.site_id)
    return review
