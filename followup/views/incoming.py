from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from followup.forms.images import NEW, DiscardForm, FilmsInForm, PaintForm, WhoseFilmForm
from followup.models.images import IncomingImage
from followup.rules.image_boxes import boxes_of
from followup.selectors import images as selector
from followup.selectors.visible import visible
from followup.services import images as service
from followup.services.images import Taken
from followup.views.images import answer_with
from registry.errors import BadInput, HoldfastError
from registry.forms.base import PlainForm
from registry.models.injuries import Injury
from registry.models.sites import Site
from registry.selectors import header_identities
from registry.selectors.visible import require
from registry.services import audit
from registry.views.sought import words_of

PER_PAGE = 50


@require_http_methods(["GET", "POST"])
def incoming(request: HttpRequest) -> HttpResponse:
    require(request.user, "take_in_films")
    injury = _injury(request)
    sites = visible(request.user, Site, "take_in_films")
    if injury is not None:
        sites = sites.filter(pk=injury.site_id)
    form = FilmsInForm(request.POST or None, request.FILES or None, sites=sites)
    refused: list[Taken] = []
    came: list[IncomingImage] = []
    if request.method == "POST" and form.is_valid():
        taken = service.take_in(
            site=form.cleaned_data["site"],
            files=form.cleaned_data["films"],
            injury=injury,
            by=request.user,
            now=timezone.now(),
        )
        refused = [one for one in taken if one.fault]
        came = [one.incoming for one in taken if one.incoming is not None]
        if came:
            said = f"{len(came)} film{'' if len(came) == 1 else 's'} came in: say whose they are."
            messages.success(request, said)
        if not refused:
            return (
                redirect("incoming-image", came[0].pk) if len(came) == 1 else redirect("incoming")
            )
    page = Paginator(selector.waiting_images(request.user), PER_PAGE).get_page(
        request.GET.get("page")
    )
    context = {
        "form": form,
        "injury": injury,
        "refused": refused,
        "came": came,
        "page": page,
        "lines": selector.waiting_lines(request.user, page.object_list),
    }
    return render(request, "followup/incoming.html", context)


@require_http_methods(["GET", "POST"])
def incoming_image(request: HttpRequest, incoming_id: int) -> HttpResponse:
    image = _waiting(request, incoming_id)
    (line,) = selector.waiting_lines(request.user, [image])
    injuries = selector.injuries_at(request.user, image)
    asked = request.POST.get("injury") or request.GET.get("injury") or ""
    injury = injuries.filter(pk=asked).first() if asked.isdecimal() else None
    form = None
    if injury is not None:
        against = header_identities.speaks_against(request.user, line.named, injury.patient)
        form = WhoseFilmForm(
            request.POST if "film" in request.POST else None,
            films=selector.films_of(injury),
            speaks_against=against,
            initial=_proposed(image),
        )
        if (
            request.method == "POST"
            and form.is_valid()
            and _confirmed(request, image, injury, form)
        ):
            following = selector.waiting_images(request.user).first()
            return redirect("incoming-image", following.pk) if following else redirect("incoming")
    words = words_of(request)
    context = {
        "line": line,
        "image": image,
        "facts": image.image_facts,
        "injury": injury,
        "form": form,
        "words": words,
        "offered": [] if injury else selector.offered(request.user, image, line.named, words),
        # Three forms stand on one page: each has fields of its own.
        "discard": DiscardForm(initial={"version": image.version}, auto_id="discard_%s"),
        "paint": PaintForm(
            initial={"version": image.version, "boxes": _suspected(image)}, auto_id="paint_%s"
        ),
    }
    return render(request, "followup/incoming_image.html", context)


@require_safe
def incoming_frame(request: HttpRequest, incoming_id: int, number: int) -> HttpResponse:
    image = _waiting(request, incoming_id)
    if not 1 <= number <= image.frames:
        raise Http404
    return answer_with(request, image, number)


@require_POST
def discard(request: HttpRequest, incoming_id: int) -> HttpResponse:
    image = _waiting(request, incoming_id)
    form = DiscardForm(request.POST)
    if not form.is_valid():
        return _refused(request, image, form)
    try:
        service.discard(
            incoming=image,
            reason=form.cleaned_data["reason"],
            expected_version=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
        )
    except HoldfastError as fault:
        messages.error(request, f"Nothing was changed. {fault}")
        return redirect("incoming-image", image.pk)
    messages.success(request, "Discarded.")
    return redirect("incoming")


@require_POST
def paint(request: HttpRequest, incoming_id: int) -> HttpResponse:
    image = _waiting(request, incoming_id)
    form = PaintForm(request.POST)
    if not form.is_valid():
        return _refused(request, image, form)
    try:
        service.paint_over(
            incoming=image,
            boxes=boxes_of(form.cleaned_data["boxes"]),
            expected_version=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
        )
    except HoldfastError as fault:
        messages.error(request, f"Nothing was changed. {fault}")
    else:
        messages.success(request, "Painted over. Look whether anything is still to be read.")
    return redirect("incoming-image", image.pk)


def _waiting(request: HttpRequest, incoming_id: int) -> IncomingImage:
    require(request.user, "take_in_films")
    return get_object_or_404(selector.waiting_images(request.user), pk=incoming_id)


def _injury(request: HttpRequest) -> Injury | None:
    asked = request.GET.get("injury", "")
    if not asked:
        return None
    rows = visible(request.user, Injury, "take_in_films").select_related("patient", "site")
    return get_object_or_404(rows, pk=asked if asked.isdecimal() else 0)


def _proposed(image: IncomingImage) -> dict[str, Any]:
    facts = image.image_facts
    measured = facts.pixel_spacing_mm or facts.imager_spacing_mm
    return {
        "version": image.version,
        "film": NEW,
        "taken_on": facts.taken_on,
        "view": image.view,
        "posture": image.posture or "unknown",
        "weighted": "unknown",
        "shows_both_sides": facts.laterality == "both",
        "calibration": "detector" if measured else "unknown",
    }


def _suspected(image: IncomingImage) -> str:
    """Return the boxes around what looks like writing, as long as nothing was painted over."""
    found = () if image.painted else image.image_facts.writing or ()
    return "\n".join(" ".join(str(edge) for edge in box) for box in found)


def _confirmed(
    request: HttpRequest, image: IncomingImage, injury: Injury, form: WhoseFilmForm
) -> bool:
    now = timezone.now()
    try:
        kept = service.confirm(
            incoming=image,
            injury=injury,
            film=form.chosen,
            values=form.film_values(),
            expected_version=form.cleaned_data["version"],
            by=request.user,
            now=now,
            today=timezone.localdate(),
        )
    except BadInput as fault:
        form.refuse(fault)
    except HoldfastError as fault:
        form.add_error(None, str(fault))
    else:
        audit.record_read(by=request.user, patient=injury.patient, now=now, page="films in")
        messages.success(request, f"Kept: {kept.film} of {injury.patient.key}.")
        return True
    return False


def _refused(request: HttpRequest, image: IncomingImage, form: PlainForm) -> HttpResponse:
    for name, faults in form.errors.items():
        label = form.fields[name].label if name in form.fields else ""
        messages.error(request, f"Nothing was changed. {label}: {' '.join(faults)}")
    return redirect("incoming-image", image.pk)
