from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from followup.models import Invitation, Review
from followup.selectors.visible import visible
from followup.services import invitations as service
from registry.errors import BadInput
from registry.selectors.visible import require


@require_POST
def issue(request: HttpRequest, review_id: int) -> HttpResponse:
    """Show a fresh link, once: whoever is on the telephone reads it out or types it over."""
    require(request.user, "invite")
    rows = visible(request.user, Review, "invite").select_related(
        "step", "site", "procedure__injury__patient"
    )
    review = get_object_or_404(rows, pk=review_id)
    try:
        invitation, link = service.hand_over(review=review, by=request.user, now=timezone.now())
    except BadInput as fault:
        messages.error(request, str(fault))
        return redirect("patient", review.procedure.injury.patient.key)
    answer = render(
        request,
        "followup/invitation_link.html",
        {"review": review, "invitation": invitation, "link": link, "patient": _key(review)},
    )
    answer.headers["Cache-Control"] = "no-store"
    return answer


@require_POST
def revoke(request: HttpRequest, invitation_id: int) -> HttpResponse:
    require(request.user, "invite")
    rows = visible(request.user, Invitation, "invite").select_related(
        "review__procedure__injury__patient", "review__step"
    )
    row = get_object_or_404(rows, pk=invitation_id)
    done = service.revoke(
        invitation=row,
        because=f"withdrawn by {request.user}",
        by=request.user,
        now=timezone.now(),
    )
    words = "is withdrawn; its links are dead" if done else "was answered or withdrawn already"
    messages.success(request, f"The questionnaire of {row.review.step} {words}.")
    return redirect("patient", _key(row.review))


def _key(review: Any) -> str:
    return str(review.procedure.injury.patient.key)
