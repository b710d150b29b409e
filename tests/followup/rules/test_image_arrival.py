import json
from datetime import date

from followup.rules.image_arrival import Arrival, SaidOf
from followup.rules.image_facts import ImageFacts
from followup.rules.image_levels import Levels


def test_an_arrival_travels_between_processes_as_it_is() -> None:
    arrival = Arrival(
        kind="dicom",
        facts=ImageFacts(3, 4, taken_on=date(2026, 7, 17)),
        levels=Levels(0, 4095, 100, 3000),
        burnt_in="said",
        view="zanca",
        posture="upright",
        said_of=SaidOf("N-1", "Marlowe", "Agneta", date(1971, 3, 4)),
    )
    assert Arrival.from_json(json.loads(json.dumps(arrival.as_json()))) == arrival


def test_who_was_not_named_is_empty() -> None:
    assert SaidOf().is_empty
    assert not SaidOf(number="1").is_empty
    nobody = Arrival("png", ImageFacts(1, 1), Levels(0, 255, 0, 255))
    assert Arrival.from_json(nobody.as_json()).said_of.is_empty
