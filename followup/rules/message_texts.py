"""What a message template may hold, how it is filled, and how long it is as a text message."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

# What may stand in braces, in the words of the Setup page. A message may be read on a locked
# screen by somebody else, so nothing here says what the patient has.
EVERYWHERE = {
    "site": "the name of the site",
    "phone": "the number to ring, from the site's rules for messages",
}
SLOT = {
    "date": "the day of the slot, as 1 December 2026",
    "weekday": "the weekday of the slot",
    "time": "the time of the slot, as 09:00",
    "clinic": "the name of the clinic",
}
WINDOW = {
    "window_from": "the first day on which the visit counts",
    "window_to": "the last day on which the visit counts",
}
LINK = {"link": "the address of the questionnaire, made when the message goes"}
PLACEHOLDERS: Mapping[str, Mapping[str, str]] = {
    "appointment_booked": {**EVERYWHERE, **SLOT},
    "appointment_cancelled": {**EVERYWHERE, **SLOT},
    "reminder": {**EVERYWHERE, **WINDOW},
    "questionnaire": {**EVERYWHERE, **LINK},
}
NEEDED: Mapping[str, tuple[str, ...]] = {
    "appointment_booked": ("date", "time"),
    "appointment_cancelled": ("date", "time"),
    "questionnaire": ("link",),
}
IN_BRACES = re.compile(r"\{([^{}]*)\}")
LONGEST_SHORT = 480

# The 7-bit alphabet of text messages and its extension, each of which takes two places:
# 3GPP TS 23.038, section 6.2.1 (characters and lengths from memory).
BASIC = set(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
EXTENDED = set("^{}\\[~]|€\f")
ONE_BASIC, PART_BASIC = 160, 153
ONE_WIDE, PART_WIDE = 70, 67


@dataclass(frozen=True)
class TextLength:
    """How long a text message is: its places, and the parts that a carrier splits it into."""

    places: int
    parts: int
    wide: bool

    @property
    def words(self) -> str:
        """Say it as the Setup page does."""
        kind = " because of letters outside the basic alphabet" if self.wide else ""
        return f"{self.places} characters: {self.parts} text message{'s' * (self.parts != 1)}{kind}"


def text_length(text: str) -> TextLength:
    """Return how many places and parts a text takes as a text message."""
    if set(text) <= BASIC | EXTENDED:
        places = sum(2 if letter in EXTENDED else 1 for letter in text)
        return TextLength(places, _parts(places, ONE_BASIC, PART_BASIC), wide=False)
    places = len(text.encode("utf-16-le")) // 2
    return TextLength(places, _parts(places, ONE_WIDE, PART_WIDE), wide=True)


def _parts(places: int, one: int, part: int) -> int:
    return 1 if places <= one else -(-places // part)


def faults_of(purpose: str, length: str, subject: str, body: str) -> dict[str, str]:
    """Return what is wrong with a template by field; nothing when it can be used."""
    known = PLACEHOLDERS[purpose]
    faults = {}
    for name, text in (("subject", subject), ("body", body)):
        fault = _fault_of(text, known)
        if fault:
            faults[name] = fault
    if "{link}" in subject:
        faults["subject"] = "A subject is no place for the {link}; put it into the text."
    missing = [one for one in NEEDED.get(purpose, ()) if f"{{{one}}}" not in body]
    if missing and "body" not in faults:
        named = " and ".join(f"{{{one}}}" for one in missing)
        faults["body"] = f"The text lacks {named}, without which the message tells nothing."
    if length == "short" and subject:
        faults["subject"] = "A text message has no subject; leave it empty."
    if length == "long" and not subject.strip():
        faults["subject"] = "An e-mail or letter needs a subject."
    if length == "short" and len(body) > LONGEST_SHORT:
        faults["body"] = (
            f"A text message holds at most {LONGEST_SHORT} characters; this has {len(body)}."
        )
    return faults


def _fault_of(text: str, known: Mapping[str, str]) -> str:
    for name in IN_BRACES.findall(text):
        if name not in known:
            offered = ", ".join(f"{{{one}}}" for one in known)
            return f"{{{name}}} is not known here. Known are: {offered}."
    left = IN_BRACES.sub("", text)
    if "{" in left or "}" in left:
        return "A brace stands alone; write a placeholder as {site}, with both braces."
    return ""


def fill(text: str, values: Mapping[str, str]) -> str:
    """Put the values into the placeholders of a text.

    Raises KeyError for a placeholder without a value.
    """
    return IN_BRACES.sub(lambda found: values[found.group(1)], text)


def languages(wanted: str, of_site: str) -> Sequence[str]:
    """Return the languages to look for a template in, best first, each once; English comes last."""
    order = [wanted, wanted.split("-")[0], of_site, of_site.split("-")[0], "en"]
    return list(dict.fromkeys(one.lower() for one in order if one))
