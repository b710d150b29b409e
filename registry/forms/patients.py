from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django import forms
from django.conf import settings

from registry.errors import BadInput
from registry.forms.base import DayField, PartialDateField, PlainForm, choices_of
from registry.models.identities import Identity, Means, Sex
from registry.models.patients import (
    ConsentChannel,
    ConsentDecision,
    ConsentPurpose,
    PatientStatus,
    ToldBy,
)
from registry.models.sites import Site
from registry.rules import dates, matching
from registry.services.enrolment import HOSPITAL_NUMBER, ConsentGiven, IdentifierGiven

IDENTITY = (
    "family_name",
    "given_name",
    "sex",
    "phone",
    "email",
    "address",
    "preferred_means",
    "refused_means",
    "language",
    "other_contact_name",
    "other_contact_phone",
    "contact_checked_on",
)
NUMBERS = (1, 2)


class IdentityForm(PlainForm):
    """Who the patient is and how to reach them."""

    family_name = forms.CharField(label="Family name", max_length=80)
    given_name = forms.CharField(label="Given name", max_length=80)
    birth_date = PartialDateField(label="Birth date")
    sex = forms.ChoiceField(label="Sex", choices=Sex.choices, initial=Sex.UNKNOWN)
    phone = forms.CharField(
        label="Phone",
        max_length=30,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel"}),
    )
    email = forms.EmailField(label="E-mail", max_length=254, required=False)
    address = forms.CharField(label="Address", max_length=300, required=False)
    preferred_means = forms.ChoiceField(
        label="Prefers to be reached by", choices=Means.choices, initial=Means.PHONE
    )
    refused_means = forms.MultipleChoiceField(
        label="Does not want to be reached by",
        choices=Means.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    language = forms.ChoiceField(label="Language", initial="en")
    other_contact_name = forms.CharField(
        label="Somebody else to ask", max_length=120, required=False
    )
    other_contact_phone = forms.CharField(label="Their phone", max_length=30, required=False)
    contact_checked_on = DayField(label="Contacts checked on", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = {str(code)[:10]: str(name) for code, name in settings.LANGUAGES}
        now = str(self.initial.get("language", "en"))
        known.setdefault(now, now)
        self.fields["language"].choices = sorted(known.items(), key=lambda pair: pair[1])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("preferred_means") in cleaned.get("refused_means", []):
            self.add_error("preferred_means", "This is also marked as not wanted; choose one.")
        return cleaned

    def identity(self) -> dict[str, Any]:
        """Return the identity's columns."""
        born: dates.Bounds = self.cleaned_data["birth_date"]
        return {
            **{name: self.cleaned_data[name] for name in IDENTITY},
            "birth_earliest": born.earliest,
            "birth_latest": born.latest,
        }

    def as_person(self) -> matching.Person:
        """Return what is compared with the patients who are there already."""
        born: dates.Bounds = self.cleaned_data["birth_date"]
        return matching.Person(
            family_name=self.cleaned_data["family_name"],
            given_name=self.cleaned_data["given_name"],
            birth_date=born.earliest if born.exact else None,
            sex=self.cleaned_data["sex"],
            phone=self.cleaned_data["phone"],
        )


def initial_identity(row: Identity) -> dict[str, Any]:
    """Return an identity's values as its form starts from them."""
    values = {name: getattr(row, name) for name in IDENTITY}
    born = dates.Bounds(row.birth_earliest, row.birth_latest)
    return {**values, "birth_date": dates.written(born)}


class EnrolForm(IdentityForm):
    """The first step of an enrolment: identity, numbers, consent."""

    site = forms.ModelChoiceField(
        label="Site", queryset=Site.objects.none(), empty_label=None, required=True
    )
    consent_registry = forms.ChoiceField(
        label=ConsentPurpose.REGISTRY.label,
        choices=choices_of(ConsentDecision, "not asked yet"),
        required=False,
    )
    consent_contact = forms.ChoiceField(
        label=ConsentPurpose.CONTACT.label,
        choices=choices_of(ConsentDecision, "not asked yet"),
        required=False,
    )
    consent_sharing = forms.ChoiceField(
        label=ConsentPurpose.SHARING.label,
        choices=choices_of(ConsentDecision, "not asked yet"),
        required=False,
    )
    consent_on = DayField(label="Decided on", required=False)
    consent_basis = forms.CharField(
        label="Basis",
        max_length=200,
        required=False,
        help_text="For example: signed form, version and date; or told in clinic.",
    )

    def __init__(self, *args: Any, sites: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["site"].queryset = sites
        for number in NUMBERS:
            first = number == NUMBERS[0]
            self.fields[f"number_{number}_system"] = forms.CharField(
                label="Issued by" if first else "Another number, issued by",
                max_length=60,
                required=False,
                initial=HOSPITAL_NUMBER if first else "",
            )
            self.fields[f"number_{number}_value"] = forms.CharField(
                label="Number", max_length=60, required=False
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for number in NUMBERS:
            if cleaned.get(f"number_{number}_value") and not cleaned.get(f"number_{number}_system"):
                self.add_error(f"number_{number}_system", "Say who issued this number.")
        if any(cleaned.get(f"consent_{purpose}") for purpose in ConsentPurpose.values):
            if not cleaned.get("consent_on"):
                self.add_error("consent_on", "Give the day on which this was decided.")
            elif cleaned["consent_on"] > self.today:
                self.add_error("consent_on", f"{cleaned['consent_on']} is in the future.")
            if not cleaned.get("consent_basis"):
                self.add_error(
                    "consent_basis", "Say on what basis: a signed form, or told to whom."
                )
        return cleaned

    def identifiers(self) -> list[IdentifierGiven]:
        """Return the numbers that were filled in."""
        return [
            IdentifierGiven(
                self.cleaned_data[f"number_{number}_system"],
                self.cleaned_data[f"number_{number}_value"],
            )
            for number in NUMBERS
            if self.cleaned_data[f"number_{number}_value"]
        ]

    def consents(self) -> list[ConsentGiven]:
        """Return the decisions that were taken."""
        return [
            ConsentGiven(
                purpose=purpose,
                decision=self.cleaned_data[f"consent_{purpose}"],
                decided_on=self.cleaned_data["consent_on"],
                basis=self.cleaned_data["consent_basis"],
            )
            for purpose in ConsentPurpose.values
            if self.cleaned_data[f"consent_{purpose}"]
        ]

    def refuse(self, fault: BadInput) -> None:
        """Put the refusal of a number by the number."""
        super().refuse(_renamed(fault, {"identifier": "number_1_value"}))


class CorrectIdentityForm(IdentityForm):
    """The identity of a patient who is there already."""

    version = forms.IntegerField(widget=forms.HiddenInput)


class AlternativeForm(PlainForm):
    """Somebody else through whom a patient may be reached."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    name = forms.CharField(label="Name", max_length=120)
    relation = forms.CharField(
        label="Who this is to the patient",
        max_length=60,
        required=False,
        help_text="For example: daughter, neighbour, carer.",
    )
    phone = forms.CharField(
        label="Phone", max_length=30, widget=forms.TextInput(attrs={"type": "tel"})
    )


class NoLongerForm(PlainForm):
    """Why a contact is not to be used any more."""

    reason = forms.CharField(label="Why it is not to be used any more", max_length=280)


class NumberForm(PlainForm):
    """A further number of a patient."""

    site = forms.ModelChoiceField(label="Site", queryset=Site.objects.none(), empty_label=None)
    issuing_system = forms.CharField(label="Issued by", max_length=60, initial=HOSPITAL_NUMBER)
    value = forms.CharField(label="Number", max_length=60)

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites

    def refuse(self, fault: BadInput) -> None:
        super().refuse(_renamed(fault, {"identifier": "value"}))


class StatusForm(PlainForm):
    """Died, withdrew, moved away, or back."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    status = forms.ChoiceField(label="What happened", choices=PatientStatus.choices)
    status_on = DayField(
        label="When", required=False, help_text="Leave empty when the patient is back."
    )
    note = forms.CharField(label="How this is known", max_length=300, required=False)


class ConsentForm(PlainForm):
    """One decision about one purpose."""

    purpose = forms.ChoiceField(label="About what", choices=ConsentPurpose.choices)
    decision = forms.ChoiceField(
        label="Decision",
        choices=choices_of(ConsentDecision),
        help_text="From a day on is only for the use in the registry.",
    )
    decided_on = DayField(label="Decided on")
    told_by = forms.ChoiceField(label="By whom", choices=choices_of(ToldBy))
    channel = forms.ChoiceField(label="In what way", choices=choices_of(ConsentChannel))
    basis = forms.CharField(
        label="Basis",
        max_length=200,
        help_text="For example: signed form, version and date; or told in clinic.",
    )

    goes_on = forms.BooleanField(
        label="Follow-up goes on, because it is clinically needed",
        required=False,
        help_text="Only when somebody opts out of the registry; without it, planned reviews are closed.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if (
            cleaned.get("decision") == ConsentDecision.FROM_NOW
            and cleaned.get("purpose") != ConsentPurpose.REGISTRY
        ):
            self.add_error("decision", "Only the use in the registry can end from a day on.")
        return cleaned

    def given(self) -> ConsentGiven:
        """Return the decision."""
        told = {name: value for name, value in self.cleaned_data.items() if name != "goes_on"}
        return ConsentGiven(**told)


class AccessForm(PlainForm):
    """Why somebody is told what is held on them."""

    reason = forms.CharField(
        label="Who asked, when and in what way",
        max_length=280,
        help_text="It is kept in the trail and stands on the report.",
    )


class MergeForm(PlainForm):
    """Which of two entries is kept, and how it is known that both are one person."""

    kept = forms.ChoiceField(label="Keep", widget=forms.RadioSelect)
    reason = forms.CharField(
        label="How you know that both are one person", max_length=280, required=False
    )

    def __init__(self, *args: Any, keys: Iterable[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kept"].choices = list(keys)


class VoidForm(PlainForm):
    """Why a row is wrong."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why this is wrong",
        max_length=280,
        help_text="The row stays in the trail with this reason and leaves every count.",
    )


def _renamed(fault: BadInput, names: Mapping[str, str]) -> BadInput:
    return BadInput({names.get(name, name): text for name, text in fault.faults.items()})
