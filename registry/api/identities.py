from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from registry.api.rows import Strict, TheirsByWordField
from registry.models.identities import Identifier, Identity, Means
from registry.models.patients import Consent, Patient
from registry.models.sites import Site
from registry.rules import dates, matching
from registry.selectors.visible import visible
from registry.services.enrolment import ConsentGiven, IdentifierGiven

COLUMNS = (
    "family_name",
    "given_name",
    "birth_earliest",
    "birth_latest",
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


class IdentifierSerializer(Strict, serializers.ModelSerializer):
    """A number that an issuing system gave to the patient."""

    class Meta:
        model = Identifier
        fields = ("issuing_system", "value")
        validators: tuple[Any, ...] = ()


class ConsentSerializer(Strict, serializers.ModelSerializer):
    """One decision about one purpose."""

    class Meta:
        model = Consent
        fields = ("purpose", "decision", "decided_on", "basis", "channel", "told_by")


class IdentitySerializer(Strict, serializers.ModelSerializer):
    """Who the patient is and how to reach them. A birth date known in part is given as its bounds."""

    key = serializers.CharField(source="patient.key", read_only=True)
    identifiers = serializers.SerializerMethodField()
    refused_means = serializers.ListField(
        child=serializers.ChoiceField(choices=Means.choices), required=False
    )

    class Meta:
        model = Identity
        fields = ("key", "version", *COLUMNS, "identifiers")
        read_only_fields = ("version",)

    @extend_schema_field(IdentifierSerializer(many=True))
    def get_identifiers(self, row: Identity) -> Any:
        numbers = visible(self.context["request"].user, Identifier, "see_identity")
        return IdentifierSerializer(numbers.filter(patient=row.patient_id), many=True).data

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        now: dict[str, Any] = {
            name: attrs.get(name, getattr(self.instance, name, None)) for name in COLUMNS
        }
        if now["birth_latest"] < now["birth_earliest"]:
            told = f"{now['birth_latest']} is before the first possible day."
            raise serializers.ValidationError({"birth_latest": told})
        if now["preferred_means"] in (now["refused_means"] or []):
            told = "This is also marked as not wanted; choose one."
            raise serializers.ValidationError({"preferred_means": told})
        return attrs


class EnrolSerializer(Strict, serializers.Serializer):
    """A new patient: who it is, under which numbers, with which consents."""

    site = TheirsByWordField(
        slug_field="code", queryset=Site.objects.all(), right="enrol", help_text="code"
    )
    identity = IdentitySerializer()
    identifiers = IdentifierSerializer(many=True, required=False)
    consents = ConsentSerializer(many=True, required=False)
    different_from = TheirsByWordField(
        slug_field="key",
        queryset=Patient.objects.all(),
        right="enrol",
        many=True,
        required=False,
        help_text="Keys of patients alike who are somebody else.",
    )

    def as_person(self) -> matching.Person:
        """Return what is compared with the patients who are there already."""
        given = self.validated_data["identity"]
        born = dates.Bounds(given["birth_earliest"], given["birth_latest"])
        return matching.Person(
            family_name=given["family_name"],
            given_name=given["given_name"],
            birth_date=born.earliest if born.exact else None,
            sex=given.get("sex", "unknown"),
            phone=given.get("phone", ""),
        )

    def numbers(self) -> list[IdentifierGiven]:
        """Return the numbers as the service takes them."""
        return [IdentifierGiven(**one) for one in self.validated_data.get("identifiers", [])]

    def decisions(self) -> list[ConsentGiven]:
        """Return the consents as the service takes them."""
        return [ConsentGiven(**one) for one in self.validated_data.get("consents", [])]
