from datetime import date

from followup.rules.image_facts import ImageFacts


def test_facts_come_back_from_the_store_as_they_went_in() -> None:
    facts = ImageFacts(
        rows=3000,
        columns=2400,
        frames=2,
        pixel_spacing_mm=(0.139, 0.14),
        pixel_spacing_kind="GEOMETRY",
        imager_spacing_mm=(0.15, 0.15),
        magnification=1.08,
        source_to_detector_mm=1800.0,
        source_to_patient_mm=1667.0,
        taken_on=date(2026, 7, 17),
        view_words="Zanca",
        laterality="left",
    )
    assert ImageFacts.from_json(facts.as_json()) == facts


def test_what_the_file_does_not_say_is_left_out() -> None:
    assert ImageFacts(10, 20).as_json() == {"rows": 10, "columns": 20, "frames": 1}
    assert ImageFacts.from_json({"rows": 10, "columns": 20, "later": 1}) == ImageFacts(10, 20)
