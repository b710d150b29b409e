"""Reading a form of a page as a browser does: what it would send if nobody typed anything."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

NOT_SENT = ("submit", "button", "file", "image", "reset")


@dataclass
class Form:
    """A form: its attributes, what its fields hold, and the values that a list offers."""

    attributes: dict[str, str]
    values: dict[str, Any] = field(default_factory=dict)
    choices: dict[str, list[str]] = field(default_factory=dict)
    names: set[str] = field(default_factory=set)

    def filled(self, **typed: str) -> dict[str, Any]:
        """Return what is sent when these fields are filled in; those that the form lacks are left out."""
        return {**self.values, **{name: text for name, text in typed.items() if name in self.names}}


def form_of(page: str, address: str, by: str = "action") -> Form:
    """Return the form of a page whose attribute holds these words. Raises LookupError without one."""
    reader = _Reader()
    reader.feed(page)
    for form in reader.forms:
        if address in form.attributes.get(by, ""):
            return form
    raise LookupError(f"no form with {address} in {by}")


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.open: Form | None = None
        self.of: str = ""
        self.in_text = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.open = Form(given)
            self.forms.append(self.open)
        form, name = self.open, given.get("name", "")
        if form is None:
            return
        if tag == "option" and self.of:
            self._option(form, given, chosen="selected" in given)
        elif tag in ("input", "select", "textarea") and name:
            form.names.add(name)
            if tag == "input":
                self._input(form, name, given)
            elif tag == "select":
                self.of = name
                form.choices[name] = []
            else:
                self.of, self.in_text = name, True
                form.values[name] = ""

    def _input(self, form: Form, name: str, given: dict[str, str]) -> None:
        kind = given.get("type", "text")
        ticked = kind not in ("checkbox", "radio") or "checked" in given
        if kind not in NOT_SENT and ticked:
            form.values[name] = given.get("value", "on" if kind == "checkbox" else "")

    def _option(self, form: Form, given: dict[str, str], *, chosen: bool) -> None:
        value = given.get("value", "")
        if value:
            form.choices[self.of].append(value)
        if chosen or self.of not in form.values:
            form.values[self.of] = value

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.open = None
        if tag in ("select", "textarea"):
            self.of, self.in_text = "", False

    def handle_data(self, data: str) -> None:
        if self.in_text and self.open is not None:
            self.open.values[self.of] += data
