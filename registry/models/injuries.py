"""One injured shoulder girdle of one patient on one date, and its classes."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from registry.models.base import ClinicalRow, one_of
from registry.models.patients import Patient


class Side(models.TextChoices):
    LEFT = "left", "Left"
    RIGHT = "right", "Right"


class YesNo(models.TextChoices):
    YES = "yes", "Yes"
    NO = "no", "No"
    UNKNOWN = "unknown", "Unknown"


class InjuryKind(models.TextChoices):
    LATERAL_CLAVICLE = "lateral_clavicle", "Fracture of the lateral clavicle"
    AC_JOINT = "ac_joint", "Acromioclavicular joint injury"


class Mechanism(models.TextChoices):
    FALL_STANDING = "fall_standing", "Fall from standing height"
    FALL_HEIGHT = "fall_height", "Fall from a height"
    BICYCLE = "bicycle", "Bicycle"
    ROAD = "road", "Road traffic"
    SPORT = "sport", "Sport"
    OTHER = "other", "Other"
    UNKNOWN = "unknown", "Unknown"


class Energy(models.TextChoices):
    LOW = "low", "Low"
    HIGH = "high", "High"
    UNKNOWN = "unknown", "Unknown"


class SkinState(models.TextChoices):
    CLOSED = "closed", "Closed"
    OPEN = "open", "Open"
    UNKNOWN = "unknown", "Unknown"


class OtherShoulder(models.TextChoices):
    UNINJURED = "uninjured", "Uninjured"
    INJURED_BEFORE = "injured_before", "Injured before"
    OPERATED_BEFORE = "operated_before", "Operated before"
    UNKNOWN = "unknown", "Unknown"


class DominantArm(models.TextChoices):
    LEFT = "left", "Left"
    RIGHT = "right", "Right"
    BOTH = "both", "Both"
    UNKNOWN = "unknown", "Unknown"


class Smoking(models.TextChoices):
    NEVER = "never", "Never"
    FORMER = "former", "Former"
    CURRENT = "current", "Current"
    UNKNOWN = "unknown", "Unknown"


class Demand(models.TextChoices):
    LOW = "low", "Desk or light"
    MODERATE = "moderate", "Moderate"
    HIGH = "high", "Heavy or overhead"
    NOT_APPLICABLE = "not_applicable", "Not applicable"
    UNKNOWN = "unknown", "Unknown"


class SportDemand(models.TextChoices):
    NONE = "none", "None"
    RECREATIONAL = "recreational", "Recreational"
    CONTACT = "contact", "Contact or overhead"
    UNKNOWN = "unknown", "Unknown"


class Injury(ClinicalRow):
    """The injured shoulder. A date known only in part is kept as its bounds.

    `age_years` and `sex` are clinical facts at injury, so that figures need not read identities.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="injuries")
    kind = models.CharField(
        max_length=20, choices=InjuryKind.choices, default=InjuryKind.LATERAL_CLAVICLE
    )
    side = models.CharField(max_length=8, choices=Side.choices)
    injured_earliest = models.DateField()
    injured_latest = models.DateField()
    mechanism = models.CharField(
        max_length=20, choices=Mechanism.choices, default=Mechanism.UNKNOWN
    )
    energy = models.CharField(max_length=10, choices=Energy.choices, default=Energy.UNKNOWN)
    skin = models.CharField(max_length=10, choices=SkinState.choices, default=SkinState.UNKNOWN)
    dominant_arm = models.CharField(
        max_length=10, choices=DominantArm.choices, default=DominantArm.UNKNOWN
    )
    other_shoulder = models.CharField(
        max_length=20, choices=OtherShoulder.choices, default=OtherShoulder.UNKNOWN
    )
    age_years = models.PositiveSmallIntegerField(null=True, blank=True)
    sex = models.CharField(max_length=10, default="unknown")
    smoking = models.CharField(max_length=10, choices=Smoking.choices, default=Smoking.UNKNOWN)
    diabetes = models.CharField(max_length=10, choices=YesNo.choices, default=YesNo.UNKNOWN)
    bmi_kg_m2 = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    steroid_use = models.CharField(max_length=10, choices=YesNo.choices, default=YesNo.UNKNOWN)
    osteoporosis = models.CharField(max_length=10, choices=YesNo.choices, default=YesNo.UNKNOWN)
    work_demand = models.CharField(max_length=20, choices=Demand.choices, default=Demand.UNKNOWN)
    sport_demand = models.CharField(
        max_length=20, choices=SportDemand.choices, default=SportDemand.UNKNOWN
    )

    class Meta(ClinicalRow.Meta):
        verbose_name_plural = "injuries"
        ordering = ["injured_earliest", "id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            one_of("kind", InjuryKind, "registry_injury_kind_known"),
            one_of("side", Side, "registry_injury_side_known"),
            one_of("mechanism", Mechanism, "registry_injury_mechanism_known"),
            one_of("energy", Energy, "registry_injury_energy_known"),
            one_of("skin", SkinState, "registry_injury_skin_known"),
            one_of("dominant_arm", DominantArm, "registry_injury_dominant_known"),
            one_of("other_shoulder", OtherShoulder, "registry_injury_other_shoulder_known"),
            one_of("smoking", Smoking, "registry_injury_smoking_known"),
            one_of("diabetes", YesNo, "registry_injury_diabetes_known"),
            one_of("steroid_use", YesNo, "registry_injury_steroid_known"),
            one_of("osteoporosis", YesNo, "registry_injury_osteoporosis_known"),
            one_of("work_demand", Demand, "registry_injury_work_known"),
            one_of("sport_demand", SportDemand, "registry_injury_sport_known"),
            models.CheckConstraint(
                condition=Q(injured_latest__gte=F("injured_earliest")),
                name="registry_injury_date_bounds",
            ),
            models.CheckConstraint(
                condition=Q(age_years__isnull=True) | Q(age_years__lte=120),
                name="registry_injury_age_possible",
            ),
            models.CheckConstraint(
                condition=Q(bmi_kg_m2__isnull=True) | Q(bmi_kg_m2__gte=10, bmi_kg_m2__lte=90),
                name="registry_injury_bmi_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_side_display()} shoulder, {self.injured_latest:%Y}"

    @property
    def date_is_exact(self) -> bool:
        return self.injured_earliest == self.injured_latest


class ClassSystem(models.TextChoices):
    NEER = "neer", "Neer"
    AO_OTA = "ao_ota", "AO/OTA"
    ROCKWOOD = "rockwood", "Rockwood"


CLASS_CODES: dict[str, tuple[str, ...]] = {
    ClassSystem.NEER: ("I", "IIA", "IIB", "IIC", "III", "IV", "V"),
    ClassSystem.AO_OTA: ("15.3A", "15.3B", "15.3C"),
    ClassSystem.ROCKWOOD: ("I", "II", "III", "IIIA", "IIIB", "IV", "V", "VI"),
}
# Which edition of each system the codes are of.
EDITIONS = {"neer": "Craig 1990", "ao_ota": "2018", "rockwood": "1984"}


class Classification(ClinicalRow):
    """A class given to an injury by one system and edition; a new opinion is a new row."""

    injury = models.ForeignKey(Injury, on_delete=models.PROTECT, related_name="classifications")
    system = models.CharField(max_length=12, choices=ClassSystem.choices)
    edition = models.CharField(max_length=40)
    code = models.CharField(max_length=12)
    classified_on = models.DateField(null=True, blank=True)
    classified_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    superseded = models.BooleanField(default=False)

    class Meta(ClinicalRow.Meta):
        ordering = ["system", "-id"]
        constraints = [
            *ClinicalRow.Meta.constraints,
            models.CheckConstraint(
                condition=Q(
                    *[
                        Q(system=str(system), code__in=codes)
                        for system, codes in CLASS_CODES.items()
                    ],
                    _connector=Q.OR,
                ),
                name="registry_classification_code_of_system",
            ),
            models.UniqueConstraint(
                fields=["injury", "system"],
                condition=Q(superseded=False, voided_at__isnull=True),
                name="registry_classification_one_current",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_system_display()} {self.code}"
