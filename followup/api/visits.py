from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

from followup.api.complications import COLUMNS as COMPLICATION
from followup.api.complications import ComplicationSerializer
from followup.api.films import FILM, READING, FilmSerializer, ReadingSerializer, found_of
from followup.api.motion import COLUMNS as MOTION
from followup.api.motion import MotionExamSerializer
from followup.models.complications import Complication
from followup.models.films import Film, Reading
from followup.models.motion import MotionExam
from followup.rules.requirements import ASKED
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.services.visits import FilmFound, VisitFindings
from registry.api.rows import Strict

ON_THE_DAY = "the day of the visit when left out"


class ReadingFound(ReadingSerializer):
    """What was measured on a film of the visit."""

    class Meta:
        model = Reading
        fields = (*READING, "findings", "missing", "checked")


class FilmSeen(FilmSerializer):
    """A film of the visit, with what was read from it."""

    taken_on = serializers.DateField(required=False, help_text=ON_THE_DAY)
    reading = ReadingFound(required=False)

    class Meta:
        model = Film
        fields = (*FILM, "reading")


class MotionFound(MotionExamSerializer):
    """Motion of one side on the day of the visit."""

    class Meta:
        model = MotionExam
        fields = (*MOTION[1:], "missing", "checked")
        validators: tuple[Any, ...] = ()


class ComplicationFound(ComplicationSerializer):
    """A complication that was found at the visit."""

    detected_on = serializers.DateField(required=False, help_text=ON_THE_DAY)

    class Meta:
        model = Complication
        fields = COMPLICATION


class VisitSerializer(Strict, serializers.Serializer):
    """All that one visit found."""

    visited_on = serializers.DateField()
    films = FilmSeen(many=True, required=False)
    motion = MotionFound(many=True, required=False)
    scores = serializers.DictField(
        child=serializers.FloatField(), required=False, help_text="totals by instrument"
    )
    complications = ComplicationFound(many=True, required=False)
    asked = serializers.ListField(
        child=serializers.CharField(max_length=40),
        required=False,
        help_text=f"what was asked or looked at, and leaves no finding of its own: "
        f"{', '.join(ASKED)}, or an item of the step's own as it stands under 'wanted'",
    )
    hardware_symptoms = serializers.CharField(
        max_length=300, required=False, help_text="a complaint; it raises the question of removal"
    )
    not_obtainable = serializers.DictField(
        child=serializers.CharField(max_length=200),
        required=False,
        help_text="why something wanted could not be had, by its name under 'wanted'",
    )
    next_step_note = serializers.CharField(max_length=300, required=False)
    visit_note = serializers.CharField(max_length=4000, required=False)

    def validate_scores(self, given: Mapping[str, float]) -> Mapping[str, float]:
        unknown = sorted(given.keys() - INSTRUMENTS.keys())
        if unknown:
            told = f"{', '.join(unknown)}: not known; there are {', '.join(sorted(INSTRUMENTS))}."
            raise serializers.ValidationError(told)
        return given

    def findings(self) -> VisitFindings:
        """Return what was found as the service takes it."""
        sent = self.validated_data
        day = sent["visited_on"]
        return VisitFindings(
            films=[_film(one, day) for one in sent.get("films", [])],
            motion=[dict(one) for one in sent.get("motion", [])],
            score_totals=sent.get("scores", {}),
            complications=[{"detected_on": day, **one} for one in sent.get("complications", [])],
            hardware_symptoms=sent.get("hardware_symptoms", ""),
            asked=sent.get("asked", []),
            not_obtainable=sent.get("not_obtainable", {}),
            next_step_note=sent.get("next_step_note", ""),
            visit_note=sent.get("visit_note", ""),
        )


def _film(seen: Mapping[str, Any], day: Any) -> FilmFound:
    film = {"taken_on": day, **seen}
    reading: dict[str, Any] = dict(film.pop("reading", {}))
    found = reading.pop("findings", ())
    return FilmFound(film=film, reading=reading, found=found_of(found))
