import hashlib

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_safe

from followup.exchange.image_frames import frame_png, small_picture
from followup.models.images import StoredImage
from followup.rules.image_levels import asked_levels
from followup.selectors import images as selector
from registry.selectors.visible import require


@require_safe
def frame(request: HttpRequest, image_id: int, number: int) -> HttpResponse:
    require(request.user, "see_films")
    image = selector.image_seen_by(request.user, image_id)
    if image is None or not 1 <= number <= image.frames:
        raise Http404
    return answer_with(request, image, number)


def answer_with(request: HttpRequest, image: StoredImage, number: int) -> HttpResponse:
    """Answer with one frame, kept by the asker's browser alone and asked about again each time.

    `small=yes` asks for a small picture of it, which has no levels of its own.
    """
    small = request.GET.get("small") == "yes"
    ends = None
    if not small:
        ends = asked_levels(
            request.GET.get("low", ""), request.GET.get("high", ""), selector.levels_of(image)
        )
    # Painting gives a picture a new stored name, so the name with the levels says what is seen.
    seen = f"{image.stored_name} {number} {'small' if small else repr(ends)}"
    etag = f'"{hashlib.sha256(seen.encode()).hexdigest()[:40]}"'
    answer = get_conditional_response(request, etag=etag)
    if answer is None:
        try:
            answer = _small(image, number) if small else _whole(image, number, ends)
        except FileNotFoundError as fault:
            raise Http404 from fault
    answer["ETag"] = etag
    answer["Cache-Control"] = "private, no-cache"
    return answer


def _small(image: StoredImage, number: int) -> HttpResponse:
    return HttpResponse(small_picture(image, number), content_type="image/jpeg")


def _whole(image: StoredImage, number: int, ends: tuple[float, float] | None) -> HttpResponse:
    return HttpResponse(frame_png(image, number, ends), content_type="image/png")
