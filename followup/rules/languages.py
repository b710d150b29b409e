"""The languages in which a patient can be asked."""

SHIPPED = {"en": "English", "de": "Deutsch"}
# As a browser and the service's own catalogue call them.
TAGS = {"en": "en-GB", "de": "de"}
FIRST = "en"


def shipped(tag: str) -> str:
    """Return the shipped language that a tag such as 'de-AT' means; English where there is none."""
    primary = tag.replace("_", "-").split("-")[0].lower()
    return primary if primary in SHIPPED else FIRST


def offered(wanted: str, there: "tuple[str, ...] | list[str]") -> str:
    """Return the language to ask in: the wanted one where a site offers it, else its first."""
    language = shipped(wanted)
    if language in there or not there:
        return language
    return FIRST if FIRST in there else there[0]
