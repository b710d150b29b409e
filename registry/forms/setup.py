from typing import Any
from zoneinfo import available_timezones

import holidays
from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from registry.forms.base import DayField, PlainForm
from registry.models.constructs import ConstructFamily
from registry.models.people import Person
from registry.models.sites import Role, Site

WHO = ("username", "shown_name", "email")
PERSON = ("shown_name", "email", "is_active")
SITE = (
    "code",
    "name",
    "telephone",
    "time_zone",
    "holiday_country",
    "holiday_subdivision",
    "min_at_risk",
)
CONSTRUCT_TYPE = (
    "code",
    "name",
    "family",
    "planned_removal",
    "removal_opens_weeks",
    "removal_due_weeks",
    "uses_small_lateral_screws",
    "order",
    "source_note",
    "is_active",
)


class SiteForm(PlainForm):
    """A hospital or clinic."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=1)
    code = forms.SlugField(
        label="Code", max_length=20, help_text="Short, without spaces; used in imports."
    )
    name = forms.CharField(label="Name", max_length=120)
    telephone = forms.CharField(
        label="Number that patients ring",
        max_length=80,
        required=False,
        help_text="In messages to patients, and on every page that they answer at home.",
    )
    time_zone = forms.ChoiceField(label="Time zone", initial="Europe/London")
    holiday_country = forms.CharField(
        label="Country for public holidays",
        max_length=2,
        required=False,
        help_text="Two letters, for example GB; empty for none.",
    )
    holiday_subdivision = forms.CharField(
        label="Part of that country", max_length=10, required=False, help_text="For example ENG."
    )
    min_at_risk = forms.IntegerField(
        label="No curve with fewer at risk than",
        min_value=1,
        max_value=100,
        initial=5,
        help_text="Curves stop where fewer patients than this remain.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zones = sorted(zone for zone in available_timezones() if "/" in zone)
        self.fields["time_zone"].choices = [(zone, zone) for zone in ["UTC", *zones]]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        country = cleaned["holiday_country"] = cleaned.get("holiday_country", "").upper()
        part = cleaned["holiday_subdivision"] = cleaned.get("holiday_subdivision", "").upper()
        known = holidays.list_supported_countries()
        if country and country not in known:
            self.add_error("holiday_country", f"No holidays are known for '{country}'.")
        elif part and part not in known.get(country, []):
            self.add_error("holiday_subdivision", f"'{part}' is not a part of '{country}'.")
        return cleaned


class NewPersonForm(PlainForm):
    """Somebody who may sign in."""

    username = forms.CharField(label="User name", max_length=150)
    shown_name = forms.CharField(label="Name as shown", max_length=120)
    email = forms.EmailField(label="E-mail", required=False)
    password = forms.CharField(
        label="First password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 12 characters of any kind. They have to change it when they sign in.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        _judge_password(self, Person(**{name: cleaned.get(name, "") for name in WHO}))
        return cleaned


class PersonForm(NewPersonForm):
    """Somebody who may sign in, with a first role."""

    site = forms.ModelChoiceField(label="Site", queryset=Site.objects.none(), empty_label=None)
    role = forms.ChoiceField(label="First role", choices=Role.choices)

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites


class ChangePersonForm(PlainForm):
    """Name, address and whether somebody may sign in."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    shown_name = forms.CharField(label="Name as shown", max_length=120)
    email = forms.EmailField(label="E-mail", required=False)
    is_active = forms.BooleanField(label="May sign in", required=False)
    password = forms.CharField(
        label="New password",
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="Leave empty to keep the present one. They have to change it when they sign in.",
    )

    def __init__(self, *args: Any, username: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.username = username

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        named = {name: cleaned.get(name, "") for name in ("shown_name", "email")}
        _judge_password(self, Person(username=self.username, **named))
        return cleaned


def _judge_password(form: PlainForm, person: Person) -> None:
    """Say at its field why a password that somebody is given cannot be taken."""
    password = form.cleaned_data.get("password")
    if not password:
        return
    try:
        validate_password(password, person)
    except ValidationError as fault:
        form.add_error("password", fault)


class TieForm(PlainForm):
    """By what the hospital's provider knows a person."""

    subject = forms.CharField(
        label="The provider's subject of this person",
        max_length=191,
        required=False,
        help_text="As the provider's administrators give it ('sub'); empty to part the two.",
    )


class RemoveFactorsForm(PlainForm):
    """Why a lost second factor is taken away."""

    reason = forms.CharField(
        label="Why, and how did you make sure that it is them?",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="It stands in the audit trail. A voice on the telephone alone is not enough.",
    )


class GrantForm(PlainForm):
    """A role at a site."""

    site = forms.ModelChoiceField(label="Site", queryset=Site.objects.none(), empty_label=None)
    role = forms.ChoiceField(label="Role", choices=Role.choices)
    starts_on = DayField(label="From")

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites


class KnownPersonForm(GrantForm):
    """A role for somebody who works at another site already."""

    username = forms.CharField(label="User name", max_length=150)


class EndRoleForm(PlainForm):
    """The last day of a role."""

    ends_on = DayField(label="Last day")


class ConstructTypeForm(PlainForm):
    """A kind of construct and the time for its planned removal."""

    version = forms.IntegerField(widget=forms.HiddenInput, initial=1)
    code = forms.CharField(
        label="Code", max_length=12, help_text="Figures are grouped by it; keep it stable."
    )
    name = forms.CharField(label="Name", max_length=80)
    family = forms.ChoiceField(label="Family", choices=ConstructFamily.choices)
    uses_small_lateral_screws = forms.BooleanField(
        label="Uses small (2.3 mm) lateral screws", required=False
    )
    planned_removal = forms.BooleanField(label="Is removed as planned", required=False)
    removal_opens_weeks = forms.IntegerField(
        label="Removal is asked about from week", min_value=1, max_value=520, required=False
    )
    removal_due_weeks = forms.IntegerField(
        label="Removal is overdue after week", min_value=1, max_value=520, required=False
    )
    source_note = forms.CharField(
        label="Source of these times",
        max_length=300,
        required=False,
        help_text="A publication, or your service's own policy and its date.",
    )
    order = forms.IntegerField(label="Place in lists", min_value=0, max_value=999, initial=0)
    is_active = forms.BooleanField(label="Offered for new operations", required=False, initial=True)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        opens, due = cleaned.get("removal_opens_weeks"), cleaned.get("removal_due_weeks")
        if cleaned.get("planned_removal"):
            for name, value in (("removal_opens_weeks", opens), ("removal_due_weeks", due)):
                if value is None and name not in self.errors:
                    self.add_error(name, "A planned removal needs this week.")
        if opens is not None and due is not None and due < opens:
            self.add_error("removal_due_weeks", f"This is before week {opens}, when it opens.")
        return cleaned
