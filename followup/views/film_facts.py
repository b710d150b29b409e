from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from followup.forms.films import CorrectFilmForm
from followup.models.films import Film
from followup.selectors.visible import visible
from followup.services import films as service
from registry.selectors.visible import require
from registry.services import audit
from registry.views.conflicts import try_to_save


@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, film_id: int) -> HttpResponse:
    require(request.user, "correct")
    rows = visible(request.user, Film, "correct").select_related(
        "injury__patient__identity", "site"
    )
    film = get_object_or_404(rows, pk=film_id, injury__patient__identity__isnull=False)
    patient = film.injury.patient
    audit.record_read(by=request.user, patient=patient, now=timezone.now(), page="film")
    form = CorrectFilmForm(request.POST or None, initial=_now(film))
    conflict = None

    def save() -> str:
        row = service.correct_film(
            film=film,
            values=form.values(),
            reason=form.cleaned_data["reason"],
            expected_version=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
        return f"Corrected: {row}."

    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(
            request, form, save, lambda: _now(Film.objects.get(pk=film.pk))
        )
        if done:
            return redirect("patient", key=patient.key)
    context = {"film": film, "patient": patient, "form": form, "conflict": conflict}
    return render(request, "followup/film_correct.html", context, status=409 if conflict else 200)


def _now(film: Film) -> dict[str, object]:
    return {name: getattr(film, name) for name in ("version", *service.FACTS)}
