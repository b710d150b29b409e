"""Which answers of a patient need somebody the same day, and what each is called.

Fever or a leaking wound: signs that suggest infection (CLINICAL, [FRI]: fever from 38.3 degrees,
drainage). A sudden change of shape: reduction or fixation may be lost. Pain 9 or 10: common
practice, no source.
"""

from collections.abc import Mapping

SEVERE_PAIN = 9
FEVER_OR_WOUND, SHAPE, PAIN = "fever_or_wound", "shape", "pain"
REASONS = (FEVER_OR_WOUND, SHAPE, PAIN)


def alarms(answers: Mapping[str, str]) -> dict[str, str]:
    """Return the reasons that some answers give for concern, each with its words."""
    found: dict[str, str] = {}
    signs = [
        words
        for code, words in (("fever", "fever"), ("wound_leaks", "the wound leaks"))
        if answers.get(code) == "yes"
    ]
    if signs:
        found[FEVER_OR_WOUND] = " and ".join(signs)
    if answers.get("shape") == "yes":
        found[SHAPE] = "the shoulder has suddenly changed its shape"
    pain = answers.get("pain", "")
    if pain.isdigit() and int(pain) >= SEVERE_PAIN:
        found[PAIN] = f"pain {pain} of 10"
    return found
