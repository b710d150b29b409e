from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from followup.forms.films import MEASURED, READING
from followup.forms.findings import findings_now
from followup.forms.measuring import CalibrationForm, MeasureForm
from followup.selectors import films as film_selector
from followup.selectors import measuring as selector
from followup.selectors.images import levels_of
from followup.selectors.measuring import Measurable
from followup.selectors.second_readings import Hidden, hidden_from
from followup.services import measuring as service
from followup.views.films import is_of_others, list_of, next_address
from followup.views.findings import asked_on, beside_rule
from registry.errors import StaleVersion
from registry.forms.measured import initial_of
from registry.selectors.visible import require
from registry.views.conflicts import try_to_save

DISTANCES = ("ccd_injured_mm", "ccd_other_mm", "ccd_side_ratio_pct")
BESIDE = tuple(name for name in READING if name not in DISTANCES)


@require_http_methods(["GET", "POST"])
def measure(request: HttpRequest, image_id: int) -> HttpResponse:
    shown = _shown(request, image_id)
    hidden = _hidden(request, shown)
    form = _reading_form(request, shown, request.POST or None)
    conflict = None

    def save() -> str:
        _save(request, shown, form, hidden)
        named = str(shown.image.film) if hidden is None else hidden.words.lower()
        return f"Saved: your reading of {named}.{beside_rule(form)}"

    def saved_now() -> dict[str, Any]:
        return _now(_shown(request, image_id))

    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(request, form, save, saved_now)
        if done:
            return redirect(_onward(request, shown, hidden))
    return _page(request, shown, form, _calibration_form(shown), conflict)


@require_POST
def calibrate(request: HttpRequest, image_id: int) -> HttpResponse:
    shown = _shown(request, image_id)
    form = _calibration_form(shown, request.POST)
    conflict = None

    def save() -> str:
        given = form.cleaned_data
        service.calibrate(
            image=shown.image,
            how=given["how"],
            diameter_mm=given["diameter_mm"],
            rim=given["rim"],
            expected_version=given["version"],
            by=request.user,
            now=timezone.now(),
        )
        return "Saved: how large a pixel of this picture is."

    if form.is_valid():
        done, conflict = try_to_save(
            request, form, save, lambda: _calibration_now(_shown(request, image_id))
        )
        if done:
            return redirect("image-measure", image_id)
    reading = _reading_form(request, shown)
    return _page(request, shown, reading, form, conflict)


@require_POST
def measure_again(request: HttpRequest, image_id: int) -> HttpResponse:
    shown = _shown(request, image_id)
    done = service.measure_again(
        image=shown.image, by=request.user, now=timezone.now(), today=timezone.localdate()
    )
    what = "1 reading" if len(done) == 1 else f"{len(done)} readings"
    messages.success(request, f"Worked out anew with the present calibration: {what}.")
    return redirect("image-measure", image_id)


def _shown(request: HttpRequest, image_id: int) -> Measurable:
    require(request.user, "read_film")
    shown = selector.measurable(request.user, image_id)
    if shown is None:
        raise Http404
    return shown


def _page(
    request: HttpRequest,
    shown: Measurable,
    form: MeasureForm,
    calibration_form: CalibrationForm,
    conflict: dict[str, Any] | None,
) -> HttpResponse:
    image = shown.image
    (line,) = film_selector.lines(request.user, [image.film])
    hidden = _hidden(request, shown)
    frame = _frame(request, shown)
    refused = form if form.errors else calibration_form
    context = {
        "line": line,
        "film": image.film,
        "image": image,
        "frame": frame,
        "frames": range(1, image.frames + 1) if image.frames > 1 else (),
        "height": f"{image.rows * shown.scale.aspect:.2f}",
        "shown": shown,
        "form": form,
        "calibration_form": calibration_form,
        "refused": refused,
        "conflict": conflict,
        "earlier": shown.own[0] if shown.own else None,
        "hidden": hidden,
        "back": list_of(request, hidden),
        "others": is_of_others(request),
        "data": _data(shown, reverse("image-frame", args=[image.pk, frame])),
    }
    return render(request, "followup/measure.html", context, status=409 if conflict else 200)


def _data(shown: Measurable, address: str) -> dict[str, Any]:
    """Return what the page's scripts need to know."""
    image, levels = shown.image, levels_of(shown.image)
    return {
        "columns": image.columns,
        "rows": image.rows,
        "aspect": shown.scale.aspect,
        "column_mm": shown.scale.column_mm if shown.scale.is_true else None,
        "landmarks": [[name, words] for name, words in shown.landmarks.items()],
        "depth": {
            "address": address,
            "least": levels.least,
            "most": levels.most,
            "low": levels.shown_low,
            "high": levels.shown_high,
        },
    }


def _save(
    request: HttpRequest, shown: Measurable, form: MeasureForm, hidden: Hidden | None
) -> None:
    seen = form.cleaned_data["version"]
    if seen != len(shown.own):
        raise StaleVersion("Your reading of this film", expected=seen, current=len(shown.own))
    (line,) = film_selector.lines(request.user, [shown.image.film])
    blind = hidden is not None or not line.course
    service.record_measured(
        image=shown.image,
        points=form.points(),
        values={**form.reading(), "blind": blind},
        reader=request.user,
        by=request.user,
        now=timezone.now(),
        today=timezone.localdate(),
        frame=_frame(request, shown),
        expected_version=shown.own[0].version if shown.own else 0,
        found=form.found(),
    )


def _reading_form(request: HttpRequest, shown: Measurable, data: Any = None) -> MeasureForm:
    film = shown.image.film
    (line,) = film_selector.lines(request.user, [film])
    blind = _hidden(request, shown) is not None or not line.course
    asked = asked_on(film, blind=blind)
    return MeasureForm(data, image=shown.image, scale=shown.scale, initial=_now(shown), **asked)


def _now(shown: Measurable) -> dict[str, Any]:
    """Return one's own reading as the form starts from it; `version` counts how often one read."""
    values = initial_of(shown.own[0], BESIDE, MEASURED) if shown.own else {}
    found = findings_now(shown.own[0]) if shown.own else {}
    return {**values, **found, **shown.points(), "version": len(shown.own)}


def _calibration_form(shown: Measurable, data: Any = None) -> CalibrationForm:
    return CalibrationForm(
        data, offers=shown.offers, initial=_calibration_now(shown), auto_id="scale_%s"
    )


def _calibration_now(shown: Measurable) -> dict[str, Any]:
    """Return the calibration as its form starts from it: the present one, or what the file offers."""
    used = shown.used
    if used is None:
        best = next((offer.how for offer in shown.offers if offer.is_true), "")
        return {"version": 0, "how": best}
    rim = "\n".join(f"{x:.1f} {y:.1f}" for x, y in used.facts.get("rim", []))
    return {
        "version": used.version,
        "how": used.how,
        "diameter_mm": used.facts.get("diameter_mm"),
        "rim": rim,
    }


def _frame(request: HttpRequest, shown: Measurable) -> int:
    """Return the frame that is asked for, else the one on which one's own marks stand."""
    asked = request.GET.get("frame", "")
    there = asked.isdecimal() and 1 <= int(asked) <= shown.image.frames
    return int(asked) if there else shown.measured_frame


def _hidden(request: HttpRequest, shown: Measurable) -> Hidden | None:
    """Return how the film is shown to whoever reads it blind."""
    (line,) = film_selector.lines(request.user, [shown.image.film])
    own = shown.own[0] if shown.own else None
    return hidden_from(request.user, shown.image.film, own, course=line.course)


def _onward(request: HttpRequest, shown: Measurable, hidden: Hidden | None) -> str:
    """Stay with the picture, or go on to the next film of the list."""
    query = "?show=others" if is_of_others(request) else ""
    stay = reverse("image-measure", args=[shown.image.pk]) + query
    return next_address(request, shown.image.film, hidden, stay=stay)
