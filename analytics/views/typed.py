"""Numbers that somebody types into an address beside the cohort: read, refused in words, kept."""

from urllib.parse import parse_qsl

from django.http import HttpRequest

from analytics.selectors.cohorts import CohortRule


def number(
    request: HttpRequest, name: str, words: str, ends: tuple[float, float], faults: list[str]
) -> float | None:
    """Return a number of the address, None where none was typed; a fault is added in words."""
    text = request.GET.get(name, "").strip()
    if not text:
        return None
    low, high = ends
    try:
        value = float(text.removesuffix("%").replace(",", "."))
    except ValueError:
        value = float("nan")
    # A comparison with what is no number is false, so that 'nan' is refused as well.
    if low <= value <= high:
        return value
    faults.append(f"{words} is a number from {low:g} to {high:g}, and '{text}' was typed")
    return None


def share(request: HttpRequest, name: str, words: str, faults: list[str]) -> float | None:
    """Return a share of the address, which is typed in per cent."""
    percent = number(request, name, f"{words} in per cent", (0, 100), faults)
    return None if percent is None else percent / 100


def kept(rule: CohortRule) -> dict[str, str]:
    """Return the parts of a cohort's address, which a form of its own sends along."""
    return dict(parse_qsl(rule.address()))


def also(request: HttpRequest, *names: str) -> dict[str, str]:
    """Return what was typed beside the cohort, which the chooser of the cohort sends along."""
    return {name: request.GET[name] for name in names if request.GET.get(name)}
