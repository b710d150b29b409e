"""The tables of the follow-up, in the order in which they refer to each other."""

import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("registry", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Clinic",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("weekday", models.PositiveSmallIntegerField()),
                ("starts_at", models.TimeField()),
                ("slots", models.PositiveSmallIntegerField()),
                ("slot_minutes", models.PositiveSmallIntegerField(default=10)),
                ("is_active", models.BooleanField(default=True)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="clinics",
                        to="registry.site",
                    ),
                ),
                (
                    "surgeon",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="clinics",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["site", "weekday", "starts_at"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("site", "name"), name="followup_clinic_name_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("weekday__lte", 6)), name="followup_clinic_weekday"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("slots__gte", 1), ("slots__lte", 200)),
                        name="followup_clinic_slots",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ClosedDay",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("on", models.DateField()),
                ("reason", models.CharField(max_length=120)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="closed_days",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["on"],
                "constraints": [
                    models.UniqueConstraint(fields=("site", "on"), name="followup_closedday_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="Complication",
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
                            ("infection_superficial", "Superficial infection"),
                            ("infection_deep", "Deep infection"),
                            ("loss_of_fixation", "Loss of fixation"),
                            ("implant_failure", "Implant failure"),
                            ("peri_implant_fracture", "Peri-implant fracture"),
                            ("nonunion", "Nonunion"),
                            ("malunion", "Malunion"),
                            ("subacromial_osteolysis", "Subacromial osteolysis"),
                            ("impingement", "Impingement"),
                            ("hardware_irritation", "Hardware irritation"),
                            ("skin_breakdown", "Skin breakdown"),
                            ("nerve", "Nerve injury or numbness"),
                            ("stiffness", "Stiffness"),
                            ("refracture", "Refracture"),
                            ("unplanned_reoperation", "Unplanned reoperation"),
                            ("ac_arthrosis", "Acromioclavicular arthrosis"),
                            ("other", "Other"),
                        ],
                        max_length=24,
                    ),
                ),
                ("onset_earliest", models.DateField(blank=True, null=True)),
                ("onset_latest", models.DateField(blank=True, null=True)),
                ("detected_on", models.DateField()),
                ("grade_scheme", models.CharField(default="orthopaedic-2012", max_length=20)),
                (
                    "grade",
                    models.CharField(
                        choices=[
                            ("I", "I: no change from routine"),
                            ("II", "II: treated in clinic"),
                            ("III", "III: investigation, readmission or reoperation"),
                            ("IVa", "IVa: threat to limb or life, no lasting harm"),
                            ("IVb", "IVb: lasting disability"),
                            ("V", "V: death"),
                            ("unknown", "Not graded yet"),
                        ],
                        default="unknown",
                        max_length=8,
                    ),
                ),
                (
                    "relation",
                    models.CharField(
                        choices=[
                            ("construct", "The construct"),
                            ("procedure", "The procedure"),
                            ("neither", "Neither"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                ("action", models.CharField(blank=True, default="", max_length=300)),
                ("resolved_on", models.DateField(blank=True, null=True)),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "procedure",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="complications",
                        to="registry.procedure",
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
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
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
            ],
            options={
                "ordering": ["detected_on", "id"],
                "abstract": False,
                "base_manager_name": "everything",
                "indexes": [
                    models.Index(
                        fields=["procedure", "kind"], name="followup_co_procedu_a4cff8_idx"
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
                        name="followup_complication_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="followup_complication_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="followup_complication_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                [
                                    "infection_superficial",
                                    "infection_deep",
                                    "loss_of_fixation",
                                    "implant_failure",
                                    "peri_implant_fracture",
                                    "nonunion",
                                    "malunion",
                                    "subacromial_osteolysis",
                                    "impingement",
                                    "hardware_irritation",
                                    "skin_breakdown",
                                    "nerve",
                                    "stiffness",
                                    "refracture",
                                    "unplanned_reoperation",
                                    "ac_arthrosis",
                                    "other",
                                ],
                            )
                        ),
                        name="followup_complication_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("grade__in", ["I", "II", "III", "IVa", "IVb", "V", "unknown"])
                        ),
                        name="followup_complication_grade_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("relation__in", ["construct", "procedure", "neither", "unknown"])
                        ),
                        name="followup_complication_relation_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("onset_earliest__isnull", True), ("onset_latest__isnull", True)
                            ),
                            models.Q(
                                ("onset_earliest__lte", models.F("onset_latest")),
                                ("onset_latest__lte", models.F("detected_on")),
                            ),
                            _connector="OR",
                        ),
                        name="followup_complication_onset_before_detection",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("resolved_on__isnull", True),
                            ("resolved_on__gte", models.F("detected_on")),
                            _connector="OR",
                        ),
                        name="followup_complication_resolved_after_detection",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Film",
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
                ("taken_on", models.DateField()),
                (
                    "view",
                    models.CharField(
                        choices=[
                            ("ap", "AP"),
                            ("zanca", "Zanca"),
                            ("axillary", "Axillary"),
                            ("chest", "Chest"),
                            ("other", "Other"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "posture",
                    models.CharField(
                        choices=[
                            ("upright", "Upright"),
                            ("supine", "Supine"),
                            ("unknown", "Unknown"),
                        ],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "weighted",
                    models.CharField(
                        choices=[("yes", "Yes"), ("no", "No"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                ("shows_both_sides", models.BooleanField(default=False)),
                (
                    "calibration",
                    models.CharField(
                        choices=[
                            ("marker", "Marker of known size"),
                            ("detector", "Detector spacing"),
                            ("none", "None: ratios only"),
                            ("unknown", "Unknown: ratios only"),
                        ],
                        default="unknown",
                        max_length=10,
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
                    "injury",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="films",
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
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
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
            ],
            options={
                "ordering": ["taken_on", "id"],
                "abstract": False,
                "base_manager_name": "everything",
                "indexes": [
                    models.Index(
                        fields=["injury", "taken_on"], name="followup_fi_injury__a1b09d_idx"
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
                        name="followup_film_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)), name="followup_film_version_from_1"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="followup_film_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("view__in", ["ap", "zanca", "axillary", "chest", "other"])
                        ),
                        name="followup_film_view_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("posture__in", ["upright", "supine", "unknown"])),
                        name="followup_film_posture_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("weighted__in", ["yes", "no", "unknown"])),
                        name="followup_film_weighted_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("calibration__in", ["marker", "detector", "none", "unknown"])
                        ),
                        name="followup_film_calibration_known",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="HardwareDecision",
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
                    "raised_because",
                    models.CharField(
                        choices=[
                            ("planned_removal", "This construct is meant to come out"),
                            ("symptoms", "Symptomatic hardware"),
                            ("complication", "A complication"),
                            ("clinician", "Raised in clinic"),
                        ],
                        max_length=16,
                    ),
                ),
                ("raised_on", models.DateField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("raised", "Raised"),
                            ("discussed", "Discussed"),
                            ("planned", "Removal planned"),
                            ("deferred", "Deferred"),
                            ("declined", "Declined"),
                            ("done", "Removed"),
                        ],
                        default="raised",
                        max_length=10,
                    ),
                ),
                ("decided_on", models.DateField(blank=True, null=True)),
                ("wish_on", models.DateField(blank=True, null=True)),
                ("deferred_until", models.DateField(blank=True, null=True)),
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
                    "procedure",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="hardware_decisions",
                        to="registry.procedure",
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
                    "removal",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="removal_decision",
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
            ],
            options={
                "ordering": ["raised_on", "id"],
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
                        name="followup_hardwaredecision_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="followup_hardwaredecision_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="followup_hardwaredecision_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "state__in",
                                ["raised", "discussed", "planned", "deferred", "declined", "done"],
                            )
                        ),
                        name="followup_hardware_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "raised_because__in",
                                ["planned_removal", "symptoms", "complication", "clinician"],
                            )
                        ),
                        name="followup_hardware_cause_known",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(
                            ("state__in", ["raised", "discussed", "planned", "deferred"]),
                            ("voided_at__isnull", True),
                        ),
                        fields=("procedure",),
                        name="followup_hardware_one_open",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("removal__isnull", False), ("state", "done")),
                            models.Q(
                                models.Q(("state", "done"), _negated=True),
                                ("removal__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="followup_hardware_done_names_removal",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("deferred_until__isnull", False), ("state", "deferred")),
                            models.Q(
                                models.Q(("state", "deferred"), _negated=True),
                                ("deferred_until__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="followup_hardware_deferred_has_day",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ["deferred", "declined"]), _negated=True),
                            models.Q(("reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="followup_hardware_refusal_has_reason",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="MotionExam",
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
                ("examined_on", models.DateField()),
                (
                    "side",
                    models.CharField(choices=[("left", "Left"), ("right", "Right")], max_length=8),
                ),
                (
                    "mode",
                    models.CharField(
                        choices=[("active", "Active"), ("passive", "Passive")],
                        default="active",
                        max_length=8,
                    ),
                ),
                ("flexion_deg", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("abduction_deg", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("external_rotation_deg", models.SmallIntegerField(blank=True, null=True)),
                (
                    "internal_rotation",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("thigh", "Thigh"),
                            ("buttock", "Buttock"),
                            ("ls", "Lumbosacral junction"),
                            ("l3", "L3"),
                            ("t12", "T12"),
                            ("t7", "T7, between the shoulder blades"),
                        ],
                        default="",
                        max_length=8,
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
                    "injury",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="motion_exams",
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
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
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
            ],
            options={
                "ordering": ["examined_on", "id"],
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
                        name="followup_motionexam_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="followup_motionexam_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="followup_motionexam_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("side__in", ["left", "right"])),
                        name="followup_motion_side_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("mode__in", ["active", "passive"])),
                        name="followup_motion_mode_known",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("voided_at__isnull", True)),
                        fields=("injury", "examined_on", "side", "mode"),
                        name="followup_motion_once_a_day",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("flexion_deg__isnull", True),
                                ("flexion_deg__lte", 190),
                                _connector="OR",
                            ),
                            models.Q(
                                ("abduction_deg__isnull", True),
                                ("abduction_deg__lte", 190),
                                _connector="OR",
                            ),
                            models.Q(
                                ("external_rotation_deg__isnull", True),
                                models.Q(
                                    ("external_rotation_deg__gte", -60),
                                    ("external_rotation_deg__lte", 120),
                                ),
                                _connector="OR",
                            ),
                        ),
                        name="followup_motion_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "internal_rotation__in",
                                ["", "thigh", "buttock", "ls", "l3", "t12", "t7"],
                            )
                        ),
                        name="followup_motion_rotation_known",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Protocol",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("fixation", "After fixation"),
                            ("removal", "After implant removal"),
                        ],
                        default="fixation",
                        max_length=10,
                    ),
                ),
                (
                    "construct_type",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="protocols",
                        to="registry.constructtype",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="protocols",
                        to="registry.site",
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("purpose__in", ["fixation", "removal"])),
                        name="followup_protocol_purpose_known",
                    ),
                    models.UniqueConstraint(
                        fields=("purpose", "site", "construct_type"),
                        name="followup_protocol_one_per_scope",
                        nulls_distinct=False,
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ProtocolVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                ("effective_from", models.DateField()),
                ("source_note", models.CharField(max_length=300)),
                ("made_at", models.DateTimeField()),
                (
                    "protocol",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="versions",
                        to="followup.protocol",
                    ),
                ),
            ],
            options={
                "ordering": ["protocol", "-number"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("protocol", "number"), name="followup_protocolversion_once"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ProtocolStep",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("code", models.SlugField(max_length=12)),
                ("name", models.CharField(max_length=60)),
                ("offset_value", models.PositiveSmallIntegerField()),
                (
                    "offset_unit",
                    models.CharField(
                        choices=[("days", "Days"), ("weeks", "Weeks"), ("months", "Months")],
                        max_length=8,
                    ),
                ),
                ("window_before_days", models.PositiveSmallIntegerField()),
                ("window_after_days", models.PositiveSmallIntegerField()),
                ("film_views", models.JSONField(blank=True, default=list)),
                ("other_side_film", models.BooleanField(default=False)),
                ("motion", models.BooleanField(default=False)),
                ("scores", models.JSONField(blank=True, default=list)),
                ("wound_check", models.BooleanField(default=False)),
                ("complication_screen", models.BooleanField(default=True)),
                ("horizon", models.CharField(blank=True, default="", max_length=4)),
                ("source_note", models.CharField(blank=True, default="", max_length=300)),
                (
                    "version",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="steps",
                        to="followup.protocolversion",
                    ),
                ),
            ],
            options={
                "ordering": ["version", "id"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("version", "code"), name="followup_step_code_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("offset_unit__in", ["days", "weeks", "months"])),
                        name="followup_step_unit_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("horizon__in", ["", "6w", "3m", "6m", "12m", "24m"])),
                        name="followup_step_horizon_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Reading",
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
                ("read_on", models.DateField()),
                (
                    "ccd_injured_mm",
                    models.DecimalField(blank=True, decimal_places=1, max_digits=4, null=True),
                ),
                (
                    "ccd_other_mm",
                    models.DecimalField(blank=True, decimal_places=1, max_digits=4, null=True),
                ),
                (
                    "ccd_side_ratio_pct",
                    models.DecimalField(blank=True, decimal_places=1, max_digits=5, null=True),
                ),
                ("translation_pct", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "union",
                    models.CharField(
                        choices=[
                            ("none", "Not united"),
                            ("partial", "Partly united"),
                            ("united", "United"),
                            ("not_applicable", "Not applicable"),
                            ("unknown", "Cannot be judged"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                (
                    "hardware",
                    models.CharField(
                        choices=[
                            ("intact", "In place"),
                            ("loose", "Loose"),
                            ("broken", "Broken"),
                            ("migrated", "Migrated"),
                            ("removed", "Removed"),
                            ("not_applicable", "Not applicable"),
                            ("unknown", "Cannot be judged"),
                        ],
                        default="unknown",
                        max_length=16,
                    ),
                ),
                ("blind", models.BooleanField(default=False)),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "film",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="followup.film",
                    ),
                ),
                (
                    "reader",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
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
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
                (
                    "superseded_by",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="supersedes",
                        to="followup.reading",
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
            ],
            options={
                "ordering": ["film", "id"],
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
                        name="followup_reading_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="followup_reading_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="followup_reading_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "union__in",
                                ["none", "partial", "united", "not_applicable", "unknown"],
                            )
                        ),
                        name="followup_reading_union_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "hardware__in",
                                [
                                    "intact",
                                    "loose",
                                    "broken",
                                    "migrated",
                                    "removed",
                                    "not_applicable",
                                    "unknown",
                                ],
                            )
                        ),
                        name="followup_reading_hardware_known",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(
                            ("superseded_by__isnull", True), ("voided_at__isnull", True)
                        ),
                        fields=("film", "reader"),
                        name="followup_reading_one_current",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("ccd_injured_mm__isnull", True),
                                models.Q(("ccd_injured_mm__gt", 0), ("ccd_injured_mm__lte", 60)),
                                _connector="OR",
                            ),
                            models.Q(
                                ("ccd_other_mm__isnull", True),
                                models.Q(("ccd_other_mm__gt", 0), ("ccd_other_mm__lte", 60)),
                                _connector="OR",
                            ),
                        ),
                        name="followup_reading_ccd_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ccd_side_ratio_pct__isnull", True),
                            models.Q(
                                ("ccd_side_ratio_pct__gte", -100), ("ccd_side_ratio_pct__lte", 600)
                            ),
                            _connector="OR",
                        ),
                        name="followup_reading_ratio_possible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("translation_pct__isnull", True),
                            ("translation_pct__lte", 400),
                            _connector="OR",
                        ),
                        name="followup_reading_translation_possible",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Review",
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
                ("opens_on", models.DateField()),
                ("due_on", models.DateField()),
                ("closes_on", models.DateField()),
                ("proposed_on", models.DateField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("planned", "Planned"),
                            ("booked", "Booked"),
                            ("attended", "Attended"),
                            ("missed", "Missed"),
                            ("lapsed", "Lapsed"),
                            ("not_needed", "Not needed"),
                        ],
                        default="planned",
                        max_length=12,
                    ),
                ),
                (
                    "ended_because",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("chosen", "Decided in clinic"),
                            ("death", "The patient died"),
                            ("withdrawal", "The patient withdrew"),
                            ("moved", "The patient moved away"),
                            ("revision", "A revision started a new schedule"),
                            ("removal", "A removal started a new schedule"),
                        ],
                        default="",
                        max_length=12,
                    ),
                ),
                ("ended_reason", models.CharField(blank=True, default="", max_length=300)),
                ("attended_on", models.DateField(blank=True, null=True)),
                ("complete", models.BooleanField(default=False)),
                ("not_obtainable", models.JSONField(blank=True, default=dict)),
                ("next_step_note", models.CharField(blank=True, default="", max_length=300)),
                ("missed_count", models.PositiveSmallIntegerField(default=0)),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "procedure",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reviews",
                        to="registry.procedure",
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
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
                (
                    "step",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reviews",
                        to="followup.protocolstep",
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
            ],
            options={
                "ordering": ["due_on", "id"],
                "abstract": False,
                "base_manager_name": "everything",
                "indexes": [
                    models.Index(
                        fields=["site", "state", "due_on"], name="followup_re_site_id_fb68c8_idx"
                    ),
                    models.Index(
                        fields=["site", "state", "closes_on"], name="followup_re_site_id_fdedc1_idx"
                    ),
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
                        name="followup_review_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="followup_review_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="followup_review_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "state__in",
                                ["planned", "booked", "attended", "missed", "lapsed", "not_needed"],
                            )
                        ),
                        name="followup_review_state_known",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("voided_at__isnull", True)),
                        fields=("procedure", "step"),
                        name="followup_review_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("due_on__lte", models.F("closes_on")),
                            ("opens_on__lte", models.F("due_on")),
                        ),
                        name="followup_review_window_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("proposed_on__gte", models.F("opens_on")),
                            ("proposed_on__lte", models.F("closes_on")),
                        ),
                        name="followup_review_proposed_inside_window",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                (
                                    "ended_because__in",
                                    [
                                        "chosen",
                                        "death",
                                        "withdrawal",
                                        "moved",
                                        "revision",
                                        "removal",
                                    ],
                                ),
                                ("state", "not_needed"),
                            ),
                            models.Q(
                                models.Q(("state", "not_needed"), _negated=True),
                                ("ended_because", ""),
                            ),
                            _connector="OR",
                        ),
                        name="followup_review_not_needed_has_cause",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_because", "chosen"), _negated=True),
                            models.Q(("ended_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="followup_review_chosen_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("attended_on__isnull", False), ("state", "attended")),
                            models.Q(
                                models.Q(("state", "attended"), _negated=True),
                                ("attended_on__isnull", True),
                            ),
                            _connector="OR",
                        ),
                        name="followup_review_attended_has_date",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Appointment",
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
                ("on", models.DateField(db_index=True)),
                ("at", models.TimeField()),
                ("film_first", models.BooleanField(default=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("booked", "Booked"),
                            ("kept", "Kept"),
                            ("missed", "Missed"),
                            ("cancelled", "Cancelled"),
                        ],
                        default="booked",
                        max_length=10,
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
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
                    ),
                ),
                (
                    "surgeon",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="appointments",
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
                    "clinic",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="appointments",
                        to="followup.clinic",
                    ),
                ),
                (
                    "review",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="appointments",
                        to="followup.review",
                    ),
                ),
            ],
            options={
                "ordering": ["on", "at", "id"],
                "abstract": False,
                "base_manager_name": "everything",
                "indexes": [
                    models.Index(
                        fields=["site", "on", "state"], name="followup_ap_site_id_c00fa0_idx"
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
                        name="followup_appointment_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="followup_appointment_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="followup_appointment_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("state__in", ["booked", "kept", "missed", "cancelled"])
                        ),
                        name="followup_appointment_state_known",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("state", "booked"), ("voided_at__isnull", True)),
                        fields=("review",),
                        name="followup_appointment_one_open",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("state", "booked"), ("voided_at__isnull", True)),
                        fields=("clinic", "on", "at"),
                        name="followup_appointment_slot_once",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="ContactAttempt",
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
                ("tried_at", models.DateTimeField()),
                (
                    "means",
                    models.CharField(
                        choices=[
                            ("phone", "Phone call"),
                            ("text", "Text message"),
                            ("email", "E-mail"),
                            ("letter", "Letter"),
                            ("other_person", "Through the other contact"),
                        ],
                        max_length=14,
                    ),
                ),
                (
                    "outcome",
                    models.CharField(
                        choices=[
                            ("reached", "Reached"),
                            ("no_answer", "No answer"),
                            ("message_left", "Message left"),
                            ("wrong_contact", "Contact is wrong"),
                            ("declined", "Does not want to come"),
                        ],
                        max_length=14,
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
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="contact_attempts",
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
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
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
                    "review",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="contact_attempts",
                        to="followup.review",
                    ),
                ),
            ],
            options={
                "ordering": ["-tried_at", "-id"],
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
                        name="followup_contactattempt_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="followup_contactattempt_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="followup_contactattempt_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("means__in", ["phone", "text", "email", "letter", "other_person"])
                        ),
                        name="followup_contact_means_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "outcome__in",
                                [
                                    "reached",
                                    "no_answer",
                                    "message_left",
                                    "wrong_contact",
                                    "declined",
                                ],
                            )
                        ),
                        name="followup_contact_outcome_known",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Message",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("appointment_booked", "Appointment booked"),
                            ("appointment_cancelled", "Appointment cancelled"),
                        ],
                        max_length=24,
                    ),
                ),
                ("means", models.CharField(default="email", max_length=10)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting"),
                            ("sending", "Being sent"),
                            ("sent", "Sent"),
                            ("stopped", "Stopped"),
                            ("failed", "Failed"),
                        ],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                ("wanted_at", models.DateTimeField()),
                ("claimed_at", models.DateTimeField(blank=True, null=True)),
                ("sent_at", models.DateTimeField(blank=True, null=True)),
                ("stopped_because", models.CharField(blank=True, default="", max_length=200)),
                (
                    "appointment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="messages",
                        to="followup.appointment",
                    ),
                ),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="messages",
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
                "ordering": ["wanted_at", "id"],
                "indexes": [
                    models.Index(fields=["state", "wanted_at"], name="followup_me_state_daf5ab_idx")
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("state__in", ["waiting", "sending", "sent", "stopped", "failed"])
                        ),
                        name="followup_message_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("purpose__in", ["appointment_booked", "appointment_cancelled"])
                        ),
                        name="followup_message_purpose_known",
                    ),
                    models.UniqueConstraint(
                        fields=("appointment", "purpose"), name="followup_message_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "sent"), _negated=True),
                            ("sent_at__isnull", False),
                            _connector="OR",
                        ),
                        name="followup_message_sent_has_time",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Score",
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
                ("instrument", models.CharField(max_length=16)),
                ("instrument_version", models.CharField(default="1", max_length=16)),
                ("taken_on", models.DateField()),
                (
                    "value",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=5, null=True),
                ),
                ("items", models.JSONField(blank=True, default=dict)),
                ("not_computable_reason", models.CharField(blank=True, default="", max_length=200)),
                (
                    "mode",
                    models.CharField(
                        choices=[
                            ("clinic", "In clinic"),
                            ("phone", "By phone"),
                            ("remote", "Patient, remote"),
                            ("proxy", "Answered by somebody else"),
                            ("unknown", "Unknown"),
                        ],
                        default="clinic",
                        max_length=10,
                    ),
                ),
                (
                    "hardware_in_place",
                    models.CharField(
                        choices=[("yes", "Yes"), ("no", "No"), ("unknown", "Unknown")],
                        default="unknown",
                        max_length=10,
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
                    "injury",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="scores",
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
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="registry.site",
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
            ],
            options={
                "ordering": ["taken_on", "instrument", "id"],
                "abstract": False,
                "base_manager_name": "everything",
                "indexes": [
                    models.Index(
                        fields=["injury", "instrument", "taken_on"],
                        name="followup_sc_injury__a5c1a2_idx",
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
                        name="followup_score_void_has_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 1)),
                        name="followup_score_version_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                        name="followup_score_changed_after_recorded",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("mode__in", ["clinic", "phone", "remote", "proxy", "unknown"])
                        ),
                        name="followup_score_mode_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("hardware_in_place__in", ["yes", "no", "unknown"])),
                        name="followup_score_hardware_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("not_computable_reason", ""), ("value__isnull", False)),
                            models.Q(
                                ("value__isnull", True),
                                models.Q(("not_computable_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="followup_score_value_or_reason",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("voided_at__isnull", True)),
                        fields=("injury", "instrument", "taken_on"),
                        name="followup_score_once_a_day",
                    ),
                ],
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
    ]
