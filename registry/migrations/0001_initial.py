"""The registry's tables, each made once with its constraints: adding them one by one took seconds."""

import django.contrib.auth.models
import django.contrib.auth.validators
import django.db.models.deletion
import django.db.models.expressions
import django.db.models.manager
import django.utils.timezone
import registry.models.patients
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="Person",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                (
                    "last_login",
                    models.DateTimeField(blank=True, null=True, verbose_name="last login"),
                ),
                (
                    "is_superuser",
                    models.BooleanField(
                        default=False,
                        help_text="Designates that this user has all permissions without explicitly assigning them.",
                        verbose_name="superuser status",
                    ),
                ),
                (
                    "username",
                    models.CharField(
                        error_messages={"unique": "A user with that username already exists."},
                        help_text="Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.",
                        max_length=150,
                        unique=True,
                        validators=[django.contrib.auth.validators.UnicodeUsernameValidator()],
                        verbose_name="username",
                    ),
                ),
                (
                    "email",
                    models.EmailField(blank=True, max_length=254, verbose_name="email address"),
                ),
                (
                    "is_staff",
                    models.BooleanField(
                        default=False,
                        help_text="Designates whether the user can log into this admin site.",
                        verbose_name="staff status",
                    ),
                ),
                (
                    "is_active",
                    models.BooleanField(
                        default=True,
                        help_text="Designates whether this user should be treated as active. Unselect this instead of deleting accounts.",
                        verbose_name="active",
                    ),
                ),
                (
                    "date_joined",
                    models.DateTimeField(
                        default=django.utils.timezone.now, verbose_name="date joined"
                    ),
                ),
                ("shown_name", models.CharField(blank=True, default="", max_length=120)),
                (
                    "groups",
                    models.ManyToManyField(
                        blank=True,
                        help_text="The groups this user belongs to. A user will get all permissions granted to each of their groups.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.group",
                        verbose_name="groups",
                    ),
                ),
                (
                    "user_permissions",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Specific permissions for this user.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.permission",
                        verbose_name="user permissions",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "people",
                "ordering": ["shown_name", "username"],
            },
            managers=[
                ("objects", django.contrib.auth.models.UserManager()),
            ],
        ),
        migrations.CreateModel(
            name="AuditEntry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                ("action", models.CharField(max_length=8)),
                ("table", models.CharField(max_length=80)),
                ("row_id", models.CharField(max_length=40)),
                ("before", models.JSONField(null=True)),
                ("after", models.JSONField(null=True)),
                ("person_id", models.BigIntegerField(null=True)),
                ("reason", models.CharField(blank=True, default="", max_length=400)),
                ("position", models.BigIntegerField(null=True, unique=True)),
                ("previous_hash", models.CharField(blank=True, default="", max_length=64)),
                ("hash", models.CharField(blank=True, default="", max_length=64)),
            ],
            options={
                "verbose_name_plural": "audit entries",
                "indexes": [
                    models.Index(fields=["table", "row_id"], name="registry_au_table_dcf759_idx"),
                    models.Index(
                        condition=models.Q(("position__isnull", True)),
                        fields=["id"],
                        name="registry_audit_unsealed",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ChainHead",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("position", models.BigIntegerField(default=0)),
                (
                    "hash",
                    models.CharField(
                        default="0000000000000000000000000000000000000000000000000000000000000000",
                        max_length=64,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("id", 1)), name="registry_chainhead_one"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ConstructType",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("code", models.CharField(max_length=12, unique=True)),
                ("name", models.CharField(max_length=80, unique=True)),
                (
                    "family",
                    models.CharField(
                        choices=[
                            ("locking_plate", "Locking plate alone"),
                            ("locking_plate_anchors", "Locking plate with coracoid anchors"),
                            ("hook_plate", "Hook plate"),
                            ("suspensory", "Suspensory fixation without a plate"),
                            ("tendon_graft", "Tendon graft"),
                            ("other", "Other"),
                        ],
                        max_length=24,
                    ),
                ),
                ("planned_removal", models.BooleanField(default=False)),
                ("removal_opens_weeks", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("removal_due_weeks", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("uses_small_lateral_screws", models.BooleanField(default=False)),
                ("order", models.PositiveSmallIntegerField(default=0)),
                ("source_note", models.CharField(blank=True, default="", max_length=300)),
                ("is_active", models.BooleanField(default=True)),
                ("version", models.PositiveIntegerField(default=1)),
            ],
            options={
                "ordering": ["order", "code"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "family__in",
                                [
                                    "locking_plate",
                                    "locking_plate_anchors",
                                    "hook_plate",
                                    "suspensory",
                                    "tendon_graft",
                                    "other",
                                ],
                            )
                        ),
                        name="registry_constructtype_family_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("planned_removal", False),
                            models.Q(
                                ("removal_due_weeks__gte", models.F("removal_opens_weeks")),
                                ("removal_due_weeks__isnull", False),
                                ("removal_opens_weeks__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="registry_constructtype_removal_window",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ImplantModel",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("plate", "Plate"),
                            ("screw", "Screw"),
                            ("anchor", "Anchor"),
                            ("suture", "Suture"),
                            ("retainer", "Suture retainer"),
                            ("button", "Button"),
                            ("graft", "Graft"),
                            ("other", "Other"),
                        ],
                        max_length=10,
                    ),
                ),
                ("description", models.CharField(max_length=120)),
                ("device_identifier", models.CharField(blank=True, default="", max_length=40)),
                ("catalogue_number", models.CharField(blank=True, default="", max_length=40)),
                ("is_active", models.BooleanField(default=True)),
            ],
            options={
                "ordering": ["kind", "description"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                [
                                    "plate",
                                    "screw",
                                    "anchor",
                                    "suture",
                                    "retainer",
                                    "button",
                                    "graft",
                                    "other",
                                ],
                            )
                        ),
                        name="registry_implantmodel_kind_known",
                    ),
                    models.UniqueConstraint(
                        fields=("kind", "description", "device_identifier", "catalogue_number"),
                        name="registry_implantmodel_once",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Site",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("code", models.SlugField(max_length=20, unique=True)),
                ("name", models.CharField(max_length=120, unique=True)),
                ("time_zone", models.CharField(default="Europe/London", max_length=60)),
                ("holiday_country", models.CharField(blank=True, default="", max_length=2)),
                ("holiday_subdivision", models.CharField(blank=True, default="", max_length=10)),
                ("min_at_risk", models.PositiveSmallIntegerField(default=5)),
                ("is_active", models.BooleanField(default=True)),
                ("version", models.PositiveIntegerField(default=1)),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("min_at_risk__gte", 1)),
                        name="registry_site_min_at_risk_from_1",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Patient",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(db_default=1, default=1)),
                ("recorded_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "void_reason",
                    models.CharField(blank=True, db_default="", default="", max_length=300),
                ),
                ("missing", models.JSONField(blank=True, default=dict)),
                ("flags", models.JSONField(blank=True, default=list)),
                (
                    "key",
                    models.CharField(
                        default=registry.models.patients.new_key,
                        editable=False,
                        max_length=12,
                        unique=True,
                    ),
                ),
                (
                    "status",
                    models.CharField(
                        choices=[
                            ("active", "Under follow-up"),
                            ("died", "Died"),
                            ("withdrawn", "Withdrew"),
                            ("moved", "Moved away"),
                        ],
                        default="active",
                        max_length=12,
                    ),
                ),
                ("status_on", models.DateField(blank=True, null=True)),
                ("status_note", models.CharField(blank=True, default="", max_length=300)),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "merged_into",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="merged_from",
                        to="registry.patient",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "base_manager_name": "everything",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""),
                                ("voided_at__isnull", True),
                                ("voided_by__isnull", True),
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="registry_patient_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="registry_patient_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="registry_patient_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("status__in", ["active", "died", "withdrawn", "moved"])
                        ),
                        name="registry_patient_status_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("status", "active"), ("status_on__isnull", True)),
                            models.Q(
                                models.Q(("status", "active"), _negated=True),
                                ("status_on__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="registry_patient_ended_has_date",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Injury",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(db_default=1, default=1)),
                ("recorded_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "void_reason",
                    models.CharField(blank=True, db_default="", default="", max_length=300),
                ),
                ("missing", models.JSONField(blank=True, default=dict)),
                ("flags", models.JSONField(blank=True, default=list)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("lateral_clavicle", "Fracture of the lateral clavicle"),
                            ("ac_joint", "Acromioclavicular joint injury"),
                        ],
                        default="lateral_clavicle",
                        max_length=20,
                    ),
                ),
                (
                    "side",
                    models.CharField(choices=[("left", "Left"), ("right", "Right")], max_length=8),
                ),
                ("injured_earliest", models.DateField()),
                ("injured_latest", models.DateField()),
                (
                    "mechanism",
                    models.CharField(
                        choices=[
                            ("fall_standing", "Fall from standing height"),
                            ("fall_height", "Fall from a height"),
                            ("bicycle", "Bicycle"),
                            ("road", "Road traffic"),
                            ("sport", "Sport"),
                            ("other", "Other"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=20,
                    ),
                ),
                (
                    "energy",
                    models.CharField(
                        choices=[("low", "Low"), ("high", "High"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "skin",
                    models.CharField(
                        choices=[("closed", "Closed"), ("open", "Open"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "dominant_arm",
                    models.CharField(
                        choices=[
                            ("left", "Left"),
                            ("right", "Right"),
                            ("both", "Both"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "other_shoulder",
                    models.CharField(
                        choices=[
                            ("uninjured", "Uninjured"),
                            ("injured_before", "Injured before"),
                            ("operated_before", "Operated before"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=20,
                    ),
                ),
                ("age_years", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("sex", models.CharField(default="unknown", max_length=10)),
                (
                    "smoking",
                    models.CharField(
                        choices=[
                            ("never", "Never"),
                            ("former", "Former"),
                            ("current", "Current"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "diabetes",
                    models.CharField(
                        choices=[("yes", "Yes"), ("no", "No"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "bmi_kg_m2",
                    models.DecimalField(blank=True, decimal_places=1, max_digits=4, null=True),
                ),
                (
                    "steroid_use",
                    models.CharField(
                        choices=[("yes", "Yes"), ("no", "No"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "osteoporosis",
                    models.CharField(
                        choices=[("yes", "Yes"), ("no", "No"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "work_demand",
                    models.CharField(
                        choices=[
                            ("low", "Desk or light"),
                            ("moderate", "Moderate"),
                            ("high", "Heavy or overhead"),
                            ("not_applicable", "Not applicable"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=20,
                    ),
                ),
                (
                    "sport_demand",
                    models.CharField(
                        choices=[
                            ("none", "None"),
                            ("recreational", "Recreational"),
                            ("contact", "Contact or overhead"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=20,
                    ),
                ),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="injuries",
                        to="registry.patient",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "injuries",
                "ordering": ["injured_earliest", "id"],
                "abstract": False,
                "base_manager_name": "everything",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""),
                                ("voided_at__isnull", True),
                                ("voided_by__isnull", True),
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="registry_injury_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="registry_injury_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="registry_injury_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["lateral_clavicle", "ac_joint"])),
                        name="registry_injury_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("side__in", ["left", "right"])),
                        name="registry_injury_side_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "mechanism__in",
                                [
                                    "fall_standing",
                                    "fall_height",
                                    "bicycle",
                                    "road",
                                    "sport",
                                    "other",
                                    "unknown",
                                ],
                            )
                        ),
                        name="registry_injury_mechanism_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("energy__in", ["low", "high", "unknown"])),
                        name="registry_injury_energy_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("skin__in", ["closed", "open", "unknown"])),
                        name="registry_injury_skin_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("dominant_arm__in", ["left", "right", "both", "unknown"])
                        ),
                        name="registry_injury_dominant_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "other_shoulder__in",
                                ["uninjured", "injured_before", "operated_before", "unknown"],
                            )
                        ),
                        name="registry_injury_other_shoulder_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("smoking__in", ["never", "former", "current", "unknown"])
                        ),
                        name="registry_injury_smoking_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("diabetes__in", ["yes", "no", "unknown"])),
                        name="registry_injury_diabetes_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("steroid_use__in", ["yes", "no", "unknown"])),
                        name="registry_injury_steroid_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("osteoporosis__in", ["yes", "no", "unknown"])),
                        name="registry_injury_osteoporosis_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "work_demand__in",
                                ["low", "moderate", "high", "not_applicable", "unknown"],
                            )
                        ),
                        name="registry_injury_work_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("sport_demand__in", ["none", "recreational", "contact", "unknown"])
                        ),
                        name="registry_injury_sport_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("injured_latest__gte", models.F("injured_earliest"))),
                        name="registry_injury_date_bounds",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("age_years__isnull", True), ("age_years__lte", 120), _connector="OR"
                        ),
                        name="registry_injury_age_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("bmi_kg_m2__isnull", True),
                            models.Q(("bmi_kg_m2__gte", 10), ("bmi_kg_m2__lte", 90)),
                            _connector="OR",
                        ),
                        name="registry_injury_bmi_possible",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Procedure",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(db_default=1, default=1)),
                ("recorded_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "void_reason",
                    models.CharField(blank=True, db_default="", default="", max_length=300),
                ),
                ("missing", models.JSONField(blank=True, default=dict)),
                ("flags", models.JSONField(blank=True, default=list)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("fixation", "Fixation"),
                            ("revision_fixation", "Revision fixation"),
                            ("implant_removal", "Implant removal"),
                            ("washout", "Debridement or washout"),
                            ("other", "Other"),
                        ],
                        max_length=20,
                    ),
                ),
                ("performed_on", models.DateField(db_index=True)),
                (
                    "operator_grade",
                    models.CharField(
                        choices=[
                            ("consultant", "Consultant"),
                            ("fellow", "Fellow"),
                            ("trainee", "Trainee"),
                            ("other", "Other"),
                            ("not_applicable", "Nobody"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                (
                    "assistant_grade",
                    models.CharField(
                        choices=[
                            ("consultant", "Consultant"),
                            ("fellow", "Fellow"),
                            ("trainee", "Trainee"),
                            ("other", "Other"),
                            ("not_applicable", "Nobody"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                (
                    "position",
                    models.CharField(
                        choices=[
                            ("beach_chair", "Beach chair"),
                            ("supine", "Supine"),
                            ("other", "Other"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                (
                    "approach",
                    models.CharField(
                        choices=[
                            ("transverse", "Transverse, below the lateral clavicle and joint"),
                            ("skin_lines", "Along the skin lines"),
                            ("arthroscopic", "Arthroscopic"),
                            ("other", "Other"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                (
                    "provisional_fixation",
                    models.CharField(
                        choices=[("yes", "Yes"), ("no", "No"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "reduction_quality",
                    models.CharField(
                        choices=[
                            ("anatomical", "Anatomical"),
                            ("near", "Nearly anatomical"),
                            ("poor", "Poor"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=12,
                    ),
                ),
                (
                    "intraoperative_film",
                    models.CharField(
                        choices=[("yes", "Yes"), ("no", "No"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                ("duration_minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "planned_removal",
                    models.BooleanField(
                        default=False,
                        help_text="An implant removal that was planned from the start.",
                    ),
                ),
                ("note", models.CharField(blank=True, default="", max_length=300)),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "injury",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="procedures",
                        to="registry.injury",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "revises",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="revised_by",
                        to="registry.procedure",
                    ),
                ),
                (
                    "surgeon",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="operations",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["performed_on", "id"],
                "abstract": False,
                "base_manager_name": "everything",
                "indexes": [
                    models.Index(
                        fields=["site", "kind", "performed_on"],
                        name="registry_pr_site_id_3a3a6b_idx",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""),
                                ("voided_at__isnull", True),
                                ("voided_by__isnull", True),
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="registry_procedure_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="registry_procedure_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="registry_procedure_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                [
                                    "fixation",
                                    "revision_fixation",
                                    "implant_removal",
                                    "washout",
                                    "other",
                                ],
                            )
                        ),
                        name="registry_procedure_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "operator_grade__in",
                                [
                                    "consultant",
                                    "fellow",
                                    "trainee",
                                    "other",
                                    "not_applicable",
                                    "unknown",
                                ],
                            )
                        ),
                        name="registry_procedure_operator_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "assistant_grade__in",
                                [
                                    "consultant",
                                    "fellow",
                                    "trainee",
                                    "other",
                                    "not_applicable",
                                    "unknown",
                                ],
                            )
                        ),
                        name="registry_procedure_assistant_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("position__in", ["beach_chair", "supine", "other", "unknown"])
                        ),
                        name="registry_procedure_position_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "approach__in",
                                ["transverse", "skin_lines", "arthroscopic", "other", "unknown"],
                            )
                        ),
                        name="registry_procedure_approach_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("provisional_fixation__in", ["yes", "no", "unknown"])),
                        name="registry_procedure_provisional_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("reduction_quality__in", ["anatomical", "near", "poor", "unknown"])
                        ),
                        name="registry_procedure_reduction_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("intraoperative_film__in", ["yes", "no", "unknown"])),
                        name="registry_procedure_film_known",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("kind", "fixation"), ("voided_at__isnull", True)),
                        fields=("injury",),
                        name="registry_procedure_one_index",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "fixation"), _negated=True),
                            ("revises__isnull", True),
                            _connector="OR",
                        ),
                        name="registry_procedure_index_revises_none",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("kind__in", ["revision_fixation", "implant_removal"]),
                                _negated=True,
                            ),
                            ("revises__isnull", False),
                            _connector="OR",
                        ),
                        name="registry_procedure_revision_names_revised",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("planned_removal", False), ("kind", "implant_removal"), _connector="OR"
                        ),
                        name="registry_procedure_planned_is_removal",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("duration_minutes__isnull", True),
                            models.Q(("duration_minutes__gte", 5), ("duration_minutes__lte", 900)),
                            _connector="OR",
                        ),
                        name="registry_procedure_duration_possible",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Construct",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(db_default=1, default=1)),
                ("recorded_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "void_reason",
                    models.CharField(blank=True, db_default="", default="", max_length=300),
                ),
                ("missing", models.JSONField(blank=True, default=dict)),
                ("flags", models.JSONField(blank=True, default=list)),
                ("plate_holes", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("lateral_screw_count", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "lateral_screw_diameter_mm",
                    models.DecimalField(blank=True, decimal_places=1, max_digits=3, null=True),
                ),
                (
                    "lateral_drill_mm",
                    models.DecimalField(blank=True, decimal_places=1, max_digits=3, null=True),
                ),
                (
                    "lateral_screws_locking",
                    models.CharField(
                        choices=[("yes", "Yes"), ("no", "No"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                ("shaft_screw_count", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "shaft_screw_diameter_mm",
                    models.DecimalField(blank=True, decimal_places=1, max_digits=3, null=True),
                ),
                (
                    "shaft_drill_mm",
                    models.DecimalField(blank=True, decimal_places=1, max_digits=3, null=True),
                ),
                ("shaft_cortices", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("anchor_count", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("button_count", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("free_slots_count", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("retainer_count", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("suture_kind", models.CharField(blank=True, default="", max_length=60)),
                (
                    "knot",
                    models.CharField(
                        choices=[
                            ("surgeons_knot", "Surgeon's knot"),
                            ("other", "Another knot"),
                            ("knotless", "Knotless"),
                            ("not_applicable", "Not applicable"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                ("half_hitch_count", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "graft",
                    models.CharField(
                        choices=[
                            ("none", "None"),
                            ("autograft", "Autograft"),
                            ("allograft", "Allograft"),
                            ("synthetic", "Synthetic"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=12,
                    ),
                ),
                (
                    "first_two_screws",
                    models.CharField(
                        choices=[
                            ("one_each_side", "One medial and one lateral to the fracture"),
                            ("same_side", "Both on the same side"),
                            ("not_applicable", "Not applicable"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                (
                    "guide_wire_clear",
                    models.CharField(
                        choices=[
                            ("yes", "Shown clear of the joint"),
                            ("no", "Shown, not clear of the joint"),
                            ("not_shown", "Not shown"),
                            ("not_applicable", "Not applicable"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                (
                    "shorter_screw_chosen",
                    models.CharField(
                        choices=[
                            ("yes", "The shorter was taken"),
                            ("no", "The longer was taken"),
                            ("not_between", "Never between two lengths"),
                            ("not_applicable", "Not applicable"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "construct_type",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="constructs",
                        to="registry.constructtype",
                    ),
                ),
                (
                    "procedure",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="construct",
                        to="registry.procedure",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "base_manager_name": "everything",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""),
                                ("voided_at__isnull", True),
                                ("voided_by__isnull", True),
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="registry_construct_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="registry_construct_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="registry_construct_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("lateral_screws_locking__in", ["yes", "no", "unknown"])
                        ),
                        name="registry_construct_locking_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "knot__in",
                                ["surgeons_knot", "other", "knotless", "not_applicable", "unknown"],
                            )
                        ),
                        name="registry_construct_knot_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "graft__in",
                                ["none", "autograft", "allograft", "synthetic", "unknown"],
                            )
                        ),
                        name="registry_construct_graft_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "first_two_screws__in",
                                ["one_each_side", "same_side", "not_applicable", "unknown"],
                            )
                        ),
                        name="registry_construct_first_screws_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "guide_wire_clear__in",
                                ["yes", "no", "not_shown", "not_applicable", "unknown"],
                            )
                        ),
                        name="registry_construct_guide_wire_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "shorter_screw_chosen__in",
                                ["yes", "no", "not_between", "not_applicable", "unknown"],
                            )
                        ),
                        name="registry_construct_shorter_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("plate_holes__isnull", True),
                                ("plate_holes__lte", 30),
                                _connector="OR",
                            ),
                            models.Q(
                                ("lateral_screw_count__isnull", True),
                                ("lateral_screw_count__lte", 20),
                                _connector="OR",
                            ),
                            models.Q(
                                ("shaft_screw_count__isnull", True),
                                ("shaft_screw_count__lte", 20),
                                _connector="OR",
                            ),
                            models.Q(
                                ("shaft_cortices__isnull", True),
                                ("shaft_cortices__lte", 40),
                                _connector="OR",
                            ),
                            models.Q(
                                ("anchor_count__isnull", True),
                                ("anchor_count__lte", 6),
                                _connector="OR",
                            ),
                            models.Q(
                                ("button_count__isnull", True),
                                ("button_count__lte", 6),
                                _connector="OR",
                            ),
                            models.Q(
                                ("half_hitch_count__isnull", True),
                                ("half_hitch_count__lte", 20),
                                _connector="OR",
                            ),
                        ),
                        name="registry_construct_counts_possible",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="PatientSite",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="at_sites",
                        to="registry.patient",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="patients_here",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("patient", "site"), name="registry_patientsite_once"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Part",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(db_default=1, default=1)),
                ("recorded_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "void_reason",
                    models.CharField(blank=True, db_default="", default="", max_length=300),
                ),
                ("missing", models.JSONField(blank=True, default=dict)),
                ("flags", models.JSONField(blank=True, default=list)),
                ("quantity", models.PositiveSmallIntegerField(default=1)),
                ("batch", models.CharField(blank=True, default="", max_length=40)),
                ("serial", models.CharField(blank=True, default="", max_length=40)),
                ("expires_on", models.DateField(blank=True, null=True)),
                ("raw_identifier", models.CharField(blank=True, default="", max_length=200)),
                ("batch_not_obtainable", models.BooleanField(default=False)),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "construct",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="parts",
                        to="registry.construct",
                    ),
                ),
                (
                    "implant_model",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="parts",
                        to="registry.implantmodel",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
                "abstract": False,
                "base_manager_name": "everything",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""),
                                ("voided_at__isnull", True),
                                ("voided_by__isnull", True),
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="registry_part_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)), name="registry_part_version_from_1"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="registry_part_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("quantity__gte", 1), ("quantity__lte", 40)),
                        name="registry_part_quantity_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("batch_not_obtainable", False), ("batch", ""), _connector="OR"
                        ),
                        name="registry_part_batch_or_not_obtainable",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Membership",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("coordinator", "Coordinator"),
                            ("surgeon", "Surgeon"),
                            ("film_reader", "Film reader"),
                            ("quality_lead", "Quality lead"),
                            ("administrator", "Administrator"),
                        ],
                        max_length=20,
                    ),
                ),
                ("starts_on", models.DateField()),
                ("ends_on", models.DateField(blank=True, null=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["site", "role", "person"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ends_on__isnull", True)),
                        fields=("person", "site", "role"),
                        name="registry_membership_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ends_on__isnull", True),
                            ("ends_on__gte", models.F("starts_on")),
                            _connector="OR",
                        ),
                        name="registry_membership_ends_after_start",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "role__in",
                                [
                                    "coordinator",
                                    "surgeon",
                                    "film_reader",
                                    "quality_lead",
                                    "administrator",
                                ],
                            )
                        ),
                        name="registry_membership_role_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ImportBatch",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("file_name", models.CharField(max_length=200)),
                ("content_hash", models.CharField(db_index=True, max_length=64)),
                ("started_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("done", "Imported whole"),
                            ("partial", "Good rows imported"),
                            ("refused", "Refused"),
                        ],
                        max_length=10,
                    ),
                ),
                ("rows_read", models.PositiveIntegerField()),
                ("rows_landed", models.PositiveIntegerField()),
                ("rows_known", models.PositiveIntegerField()),
                ("rows_refused", models.PositiveIntegerField()),
                (
                    "started_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "import batches",
                "ordering": ["-started_at"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("state__in", ["done", "partial", "refused"])),
                        name="registry_importbatch_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "rows_read",
                                django.db.models.expressions.CombinedExpression(
                                    django.db.models.expressions.CombinedExpression(
                                        models.F("rows_landed"), "+", models.F("rows_known")
                                    ),
                                    "+",
                                    models.F("rows_refused"),
                                ),
                            ),
                            ("state", "refused"),
                            _connector="OR",
                        ),
                        name="registry_importbatch_rows_add_up",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Identifier",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("issuing_system", models.CharField(max_length=60)),
                ("value", models.CharField(db_index=True, max_length=60)),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="identifiers",
                        to="registry.patient",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("site", "issuing_system", "value"), name="registry_identifier_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("value", ""), _negated=True),
                        name="registry_identifier_not_empty",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ConstructDeparture",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(db_default=1, default=1)),
                ("recorded_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "void_reason",
                    models.CharField(blank=True, db_default="", default="", max_length=300),
                ),
                ("missing", models.JSONField(blank=True, default=dict)),
                ("flags", models.JSONField(blank=True, default=list)),
                ("check_id", models.CharField(max_length=40)),
                ("check_version", models.PositiveSmallIntegerField()),
                ("found", models.CharField(max_length=200)),
                ("reason", models.CharField(blank=True, default="", max_length=300)),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "construct",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="departures",
                        to="registry.construct",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["check_id"],
                "abstract": False,
                "base_manager_name": "everything",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""),
                                ("voided_at__isnull", True),
                                ("voided_by__isnull", True),
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="registry_constructdeparture_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="registry_constructdeparture_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="registry_constructdeparture_changed_after_recorded",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("voided_at__isnull", True)),
                        fields=("construct", "check_id", "check_version"),
                        name="registry_departure_once",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Consent",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(db_default=1, default=1)),
                ("recorded_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "void_reason",
                    models.CharField(blank=True, db_default="", default="", max_length=300),
                ),
                ("missing", models.JSONField(blank=True, default=dict)),
                ("flags", models.JSONField(blank=True, default=list)),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("registry", "Use of the data in the registry"),
                            ("contact", "Being contacted"),
                            ("sharing", "Sharing for research"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "decision",
                    models.CharField(
                        choices=[("given", "Given"), ("opted_out", "Opted out")], max_length=12
                    ),
                ),
                ("decided_on", models.DateField()),
                ("basis", models.CharField(max_length=200)),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="consents",
                        to="registry.patient",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["-decided_on", "-id"],
                "abstract": False,
                "base_manager_name": "everything",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""),
                                ("voided_at__isnull", True),
                                ("voided_by__isnull", True),
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="registry_consent_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="registry_consent_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="registry_consent_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("purpose__in", ["registry", "contact", "sharing"])),
                        name="registry_consent_purpose_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("decision__in", ["given", "opted_out"])),
                        name="registry_consent_decision_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("basis", ""), _negated=True),
                        name="registry_consent_has_basis",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Classification",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(db_default=1, default=1)),
                ("recorded_at", models.DateTimeField()),
                ("changed_at", models.DateTimeField()),
                ("voided_at", models.DateTimeField(blank=True, null=True)),
                (
                    "void_reason",
                    models.CharField(blank=True, db_default="", default="", max_length=300),
                ),
                ("missing", models.JSONField(blank=True, default=dict)),
                ("flags", models.JSONField(blank=True, default=list)),
                (
                    "system",
                    models.CharField(
                        choices=[("neer", "Neer"), ("ao_ota", "AO/OTA"), ("rockwood", "Rockwood")],
                        max_length=12,
                    ),
                ),
                ("edition", models.CharField(max_length=40)),
                ("code", models.CharField(max_length=12)),
                ("classified_on", models.DateField(blank=True, null=True)),
                ("superseded", models.BooleanField(default=False)),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "classified_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "voided_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "injury",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="classifications",
                        to="registry.injury",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["system", "-id"],
                "abstract": False,
                "base_manager_name": "everything",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("void_reason", ""),
                                ("voided_at__isnull", True),
                                ("voided_by__isnull", True),
                            ),
                            models.Q(
                                ("voided_at__isnull", False),
                                ("voided_by__isnull", False),
                                models.Q(("void_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="registry_classification_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="registry_classification_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="registry_classification_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("code__in", ("I", "IIA", "IIB", "IIC", "III", "IV", "V")),
                                ("system", "neer"),
                            ),
                            models.Q(
                                ("code__in", ("15.3A", "15.3B", "15.3C")), ("system", "ao_ota")
                            ),
                            models.Q(
                                ("code__in", ("I", "II", "III", "IIIA", "IIIB", "IV", "V", "VI")),
                                ("system", "rockwood"),
                            ),
                            _connector="OR",
                        ),
                        name="registry_classification_code_of_system",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("superseded", False), ("voided_at__isnull", True)),
                        fields=("injury", "system"),
                        name="registry_classification_one_current",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Identity",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("family_name", models.CharField(max_length=80)),
                ("given_name", models.CharField(max_length=80)),
                ("sort_name", models.CharField(db_index=True, editable=False, max_length=170)),
                ("birth_earliest", models.DateField()),
                ("birth_latest", models.DateField()),
                (
                    "sex",
                    models.CharField(
                        choices=[
                            ("female", "Female"),
                            ("male", "Male"),
                            ("other", "Other"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                ("phone", models.CharField(blank=True, default="", max_length=30)),
                ("email", models.EmailField(blank=True, default="", max_length=254)),
                ("address", models.CharField(blank=True, default="", max_length=300)),
                (
                    "preferred_means",
                    models.CharField(
                        choices=[
                            ("phone", "Phone call"),
                            ("text", "Text message"),
                            ("email", "E-mail"),
                            ("letter", "Letter"),
                        ],
                        default="phone",
                        max_length=10,
                    ),
                ),
                ("refused_means", models.JSONField(blank=True, default=list)),
                ("language", models.CharField(default="en", max_length=10)),
                ("other_contact_name", models.CharField(blank=True, default="", max_length=120)),
                ("other_contact_phone", models.CharField(blank=True, default="", max_length=30)),
                ("contact_checked_on", models.DateField(blank=True, null=True)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "patient",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="identity",
                        to="registry.patient",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "identities",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("birth_latest__gte", models.F("birth_earliest"))),
                        name="registry_identity_birth_bounds",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("family_name", ""), _negated=True),
                        name="registry_identity_has_family_name",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("sex__in", ["female", "male", "other", "unknown"])),
                        name="registry_identity_sex_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("preferred_means__in", ["phone", "text", "email", "letter"])
                        ),
                        name="registry_identity_means_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ImportRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("line", models.PositiveIntegerField()),
                ("fingerprint", models.CharField(max_length=64)),
                ("reason", models.TextField(blank=True, default="")),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="rows",
                        to="registry.importbatch",
                    ),
                ),
                (
                    "procedure",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.procedure",
                    ),
                ),
            ],
            options={
                "ordering": ["line"],
                "indexes": [
                    models.Index(fields=["fingerprint"], name="registry_im_fingerp_777e10_idx")
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("batch", "line"), name="registry_importrow_line_once"
                    )
                ],
            },
        ),
    ]
