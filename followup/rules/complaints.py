"""What a patient's answers say against the hardware, when they say enough to ask about removal."""

from collections.abc import Mapping

FROM_NOW_AND_THEN = {
    "hw_rubs": "rubs",
    "hw_strap": "sore under a strap",
    "hw_tender": "tender over the plate",
    "hw_sleep": "disturbs sleep",
}
LOUD = "often"


def complaint_of(answers: Mapping[str, str]) -> str:
    """Return the complaint in words, '' when the question of removal is not to be raised by it.

    It is raised when something happens often, or when the patient wishes the hardware out; common
    practice, no source.
    """
    wish = answers.get("hw_out") == "yes"
    felt = {code: answers.get(code, "") for code in FROM_NOW_AND_THEN}
    if not wish and LOUD not in felt.values():
        return ""
    words = [
        f"{FROM_NOW_AND_THEN[code]} {how}"
        for code, how in felt.items()
        if how in ("often", "sometimes")
    ]
    return ", ".join([*words, *(["wishes it out"] if wish else [])])
