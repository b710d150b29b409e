from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext

from followup.rules import questions
from registry.forms.base import PlainForm


class PageForm(PlainForm):
    """One page of questions; every question may be left open."""

    def __init__(
        self, data: Any, *, page: questions.Page, answers: Mapping[str, str], **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self.page = page
        for number, question in enumerate(page.questions, 1):
            field = _field(question)
            # A code with a colon makes no good name for a script or a label.
            self.fields[f"q{number}"] = field
            self.initial[f"q{number}"] = answers.get(question.code, "")

    def given(self) -> dict[str, str]:
        """Return what was answered, by the questions' codes.

        A choice that was left alone is no answer; a number that was wiped out takes the answer back.
        """
        found = {}
        for number, question in enumerate(self.page.questions, 1):
            name = f"q{number}"
            if name in self.data and (self.cleaned_data[name] or not question.choices):
                found[question.code] = self.cleaned_data[name]
        return found


class _Answer(forms.Field):
    """A text that is held against the question that it answers."""

    def __init__(self, question: questions.Question, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)
        self.question = question

    def clean(self, value: Any) -> str:
        text = str(value or "").strip()
        fault = questions.fault_in(self.question, text)
        if fault:
            raise forms.ValidationError(gettext(fault))
        return text


def _field(question: questions.Question) -> _Answer:
    said = (lambda words: words) if question.pasted else gettext
    widget: forms.Widget
    if question.choices:
        pairs = [(choice.code, said(choice.words)) for choice in question.choices]
        widget = forms.RadioSelect(choices=pairs)
    else:
        widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": 4})
    hint = said(question.hint) if question.hint else ""
    return _Answer(question, label=said(question.words), help_text=hint, widget=widget)
