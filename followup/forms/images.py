from collections.abc import Sequence
from typing import Any

from django import forms
from django.conf import settings

from followup.models.films import Calibration, Film, Posture, View
from registry.forms.base import DayField, PlainForm, choices_of
from registry.models.injuries import YesNo
from registry.models.sites import Site

NEW = "new"


class SeveralFilesInput(forms.ClearableFileInput):
    """An input that takes several files, chosen or dropped on it."""

    allow_multiple_selected = True


class SeveralFilesField(forms.FileField):
    """Files, one or several; each is looked at for itself when it is taken in."""

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        several = data if isinstance(data, list | tuple) else [data]
        given = [one for one in several if one]
        if not given:
            raise forms.ValidationError("Choose the films, or drop them here.")
        if len(given) > settings.FILMS_AT_ONCE:
            raise forms.ValidationError(
                f"These are {len(given)} files; up to {settings.FILMS_AT_ONCE} are taken at once. "
                "Send them in parts."
            )
        return given


class FilmsInForm(PlainForm):
    """The films that are sent, and the site that they belong to."""

    site = forms.ModelChoiceField(label="Site", queryset=Site.objects.none(), empty_label=None)
    films = SeveralFilesField(
        label="Films",
        widget=SeveralFilesInput(attrs={"class": "drop"}),
        help_text="DICOM, PNG or JPEG, one or several; choose them or drop them on the field. "
        "Names are taken out of them on arrival.",
    )

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites
        if sites.count() == 1:
            self.fields["site"].initial = sites.get()
            self.fields["site"].widget = forms.HiddenInput()


class WhoseFilmForm(PlainForm):
    """To which film of an injury a waiting image belongs: one that is there, or a new one."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    film = forms.ChoiceField(label="Film", widget=forms.RadioSelect)
    taken_on = DayField(label="Taken on", required=False)
    view = forms.ChoiceField(label="View", choices=choices_of(View), required=False)
    posture = forms.ChoiceField(label="Posture", choices=choices_of(Posture), required=False)
    weighted = forms.ChoiceField(label="Weighted", choices=choices_of(YesNo), required=False)
    shows_both_sides = forms.BooleanField(label="It shows both shoulders", required=False)
    calibration = forms.ChoiceField(
        label="Calibrated by", choices=choices_of(Calibration), required=False
    )
    sure = forms.BooleanField(
        label="The file names somebody else. I have looked: it is this patient's all the same.",
        required=False,
    )

    def __init__(
        self, *args: Any, films: Sequence[Film], speaks_against: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        there = [(str(film.pk), f"{film}, recorded before") for film in films]
        self.fields["film"].choices = [(NEW, "A new film, as below"), *there]
        self.films = {str(film.pk): film for film in films}
        if speaks_against:
            self.fields["sure"].required = True
        else:
            del self.fields["sure"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("film") == NEW:
            for name in ("taken_on", "view"):
                if not cleaned.get(name) and name not in self.errors:
                    self.add_error(name, "Say this of a new film.")
        return cleaned

    @property
    def chosen(self) -> Film | None:
        """The film that is there and was chosen; None for a new one."""
        return self.films.get(self.cleaned_data["film"])

    def film_values(self) -> dict[str, Any]:
        """Return the columns of a new film."""
        names = ("taken_on", "view", "posture", "weighted", "shows_both_sides", "calibration")
        given = {name: self.cleaned_data[name] for name in names}
        # What was left open is said to be unknown by the model itself.
        return {name: value for name, value in given.items() if value != ""}


class DiscardForm(PlainForm):
    """Why a waiting image is not wanted."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(label="Why is it not wanted?", max_length=300)


class PaintForm(PlainForm):
    """The boxes that are painted over for good."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    boxes = forms.CharField(
        label="Boxes to paint over",
        widget=forms.Textarea(attrs={"rows": 4, "data-boxes": ""}),
        max_length=2000,
        help_text="One a line: left, top, right, bottom in pixels from the upper left corner; "
        "or draw them on the picture.",
    )
    sure = forms.BooleanField(
        label="I know that what is painted over cannot be brought back, by nobody."
    )
