"""All tables as the migrations up to 0041 left them, for a database that has none of them yet."""

import datetime
import django.core.validators
import django.db.models.deletion
import django.db.models.manager
import followup.models.messages
import followup.models.questionnaires
import uuid
from django.conf import settings
from django.db import migrations, models

from registry.migrations._many_tables import CreateModels


class Migration(migrations.Migration):
    replaces = [
        ("followup", "0001_initial"),
        ("followup", "0002_what_was_asked"),
        ("followup", "0003_tasks_about_patients"),
        ("followup", "0004_messages_of_any_reason"),
        ("followup", "0005_fill_message_keys"),
        ("followup", "0006_message_key_once"),
        ("followup", "0007_scores_by_mode"),
        ("followup", "0008_film_sides_and_milestones"),
        ("followup", "0009_fill_film_sides"),
        ("followup", "0010_film_sides_replace_other_side"),
        ("followup", "0011_how_messages_go"),
        ("followup", "0012_fill_messages_being_sent"),
        ("followup", "0013_questionnaires"),
        ("followup", "0014_levelling_proposals"),
        ("followup", "0015_contact_policy_and_lists"),
        ("followup", "0016_chosen_days_and_version_moves"),
        ("followup", "0017_no_reminders_at_all"),
        ("followup", "0018_calendar_feeds"),
        ("followup", "0019_hardware_steps"),
        ("followup", "0020_fill_hardware_steps"),
        ("followup", "0021_waiting_since_is_known"),
        ("followup", "0022_public_holidays"),
        ("followup", "0023_fill_site_telephone"),
        ("followup", "0024_one_telephone_of_a_site"),
        ("followup", "0025_replies"),
        ("followup", "0026_film_images"),
        ("followup", "0027_visit_notes_letters_drafts"),
        ("followup", "0028_measured_on_pictures"),
        ("followup", "0029_what_headers_propose"),
        ("followup", "0030_reading_policies"),
        ("followup", "0031_findings_of_readings"),
        ("followup", "0032_wanted_readings"),
        ("followup", "0033_fill_turns"),
        ("followup", "0034_tasks_of_safety_notices"),
        ("followup", "0035_hospital_slots"),
        ("followup", "0036_import_drafts"),
        ("followup", "0037_bulk_exports"),
        ("followup", "0038_import_waited"),
        ("followup", "0039_files_measured"),
        ("followup", "0040_slots_that_were_made"),
        ("followup", "0041_files_that_may_name_erased"),
    ]

    initial = True

    dependencies = [
        ("registry", "0018_emergency_accesses"),
    ]

    operations = [
        CreateModels(
            models=[
                migrations.CreateModel(
                    name="BulkExport",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                        ("asked_at", models.DateTimeField()),
                        ("request", models.CharField(max_length=1000)),
                        ("types", models.JSONField(default=list)),
                        ("since", models.DateTimeField(blank=True, null=True)),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("asked", "Asked for"),
                                    ("being_made", "Being made"),
                                    ("ready", "Ready"),
                                    ("failed", "Failed"),
                                ],
                                default="asked",
                                max_length=10,
                            ),
                        ),
                        ("facts_at", models.JSONField(blank=True, default=list)),
                        ("names_at", models.JSONField(blank=True, default=list)),
                        ("resources_done", models.PositiveIntegerField(default=0)),
                        ("fault", models.CharField(blank=True, default="", max_length=400)),
                        ("made_at", models.DateTimeField(blank=True, null=True)),
                        ("expires_at", models.DateTimeField()),
                        (
                            "asked_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("state__in", ["asked", "being_made", "ready", "failed"])
                                ),
                                name="followup_bulkexport_state_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("state", "failed"), models.Q(("fault", ""), _negated=True)
                                    ),
                                    models.Q(
                                        models.Q(("state", "failed"), _negated=True), ("fault", "")
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_bulkexport_failed_says_why",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state", "ready"), _negated=True),
                                    ("made_at__isnull", False),
                                    _connector="OR",
                                ),
                                name="followup_bulkexport_ready_has_moment",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="BulkFile",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("kind", models.CharField(max_length=40)),
                        ("is_error", models.BooleanField(default=False)),
                        ("stored_name", models.CharField(max_length=200)),
                        ("resources", models.PositiveIntegerField()),
                        (
                            "export",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="files",
                                to="followup.bulkexport",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["id"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("export", "kind", "is_error"), name="followup_bulkfile_once"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="CalendarPolicy",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("shows_names", models.BooleanField(default=False)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "site",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="calendar_policy",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "calendar policies",
                    },
                ),
                migrations.CreateModel(
                    name="Clinic",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                            "hospital_code",
                            models.CharField(blank=True, db_default="", default="", max_length=60),
                        ),
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
                                condition=models.Q(("weekday__lte", 6)),
                                name="followup_clinic_weekday",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("slots__gte", 1), ("slots__lte", 200)),
                                name="followup_clinic_slots",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("hospital_code", ""), _negated=True),
                                fields=("site", "hospital_code"),
                                name="followup_clinic_hospital_code_once",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="CalendarFeed",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("token_hash", models.CharField(max_length=64, unique=True)),
                        ("begins", models.CharField(max_length=6)),
                        ("made_at", models.DateTimeField()),
                        ("revoked_at", models.DateTimeField(blank=True, null=True)),
                        ("last_used_at", models.DateTimeField(blank=True, null=True)),
                        ("digest", models.CharField(blank=True, default="", max_length=64)),
                        ("digest_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "owner",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="calendar_feeds",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "revoked_by",
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
                                related_name="calendar_feeds",
                                to="registry.site",
                            ),
                        ),
                        (
                            "clinic",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="calendar_feeds",
                                to="followup.clinic",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-made_at", "-id"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("clinic__isnull", False), ("revoked_at__isnull", True)
                                ),
                                fields=("owner", "clinic"),
                                name="followup_calendarfeed_one_of_clinic",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("clinic__isnull", True), ("revoked_at__isnull", True)
                                ),
                                fields=("owner", "site"),
                                name="followup_calendarfeed_one_of_surgeon",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("revoked_at__isnull", True), ("revoked_by__isnull", True)
                                    ),
                                    models.Q(
                                        ("revoked_at__isnull", False), ("revoked_by__isnull", False)
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_calendarfeed_revoked_by_somebody",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Appointment",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                fields=["site", "on", "state"],
                                name="followup_ap_site_id_c00fa0_idx",
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
                                condition=models.Q(
                                    ("state", "booked"), ("voided_at__isnull", True)
                                ),
                                fields=("review",),
                                name="followup_appointment_one_open",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("state", "booked"), ("voided_at__isnull", True)
                                ),
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
                    name="ClosedDay",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("on", models.DateField()),
                        ("reason", models.CharField(max_length=120)),
                        ("is_public_holiday", models.BooleanField(db_default=False, default=False)),
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
                            models.UniqueConstraint(
                                fields=("site", "on"), name="followup_closedday_once"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Complication",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                        (
                            "grade_scheme",
                            models.CharField(default="orthopaedic-2012", max_length=20),
                        ),
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
                                    (
                                        "relation__in",
                                        ["construct", "procedure", "neither", "unknown"],
                                    )
                                ),
                                name="followup_complication_relation_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("onset_earliest__isnull", True),
                                        ("onset_latest__isnull", True),
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
                    name="ContactPolicy",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("attempts", models.PositiveSmallIntegerField(default=6)),
                        ("means", models.PositiveSmallIntegerField(default=2)),
                        ("over_days", models.PositiveSmallIntegerField(default=14)),
                        ("days_between", models.PositiveSmallIntegerField(default=2)),
                        ("calls_before_other_route", models.PositiveSmallIntegerField(default=3)),
                        ("reminder_days", models.PositiveSmallIntegerField(default=7)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "site",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="contact_policy",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "contact policies",
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("attempts__gte", 1),
                                    ("attempts__lte", 30),
                                    ("means__gte", 1),
                                    ("means__lte", 5),
                                    ("days_between__lte", 60),
                                    ("means__lte", models.F("attempts")),
                                    ("over_days__lte", 180),
                                    ("calls_before_other_route__gte", 1),
                                    ("calls_before_other_route__lte", 30),
                                    ("reminder_days__gte", 1),
                                    ("reminder_days__lte", 180),
                                ),
                                name="followup_contactpolicy_possible",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Film",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                condition=models.Q(("version__gte", 1)),
                                name="followup_film_version_from_1",
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
                                condition=models.Q(
                                    ("posture__in", ["upright", "supine", "unknown"])
                                ),
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
                    name="FilmImage",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                        ("content_hash", models.CharField(max_length=64)),
                        ("stored_name", models.CharField(max_length=80)),
                        (
                            "kind",
                            models.CharField(
                                choices=[("dicom", "DICOM"), ("png", "PNG"), ("jpeg", "JPEG")],
                                max_length=5,
                            ),
                        ),
                        ("rows", models.PositiveIntegerField()),
                        ("columns", models.PositiveIntegerField()),
                        ("frames", models.PositiveIntegerField(default=1)),
                        ("facts", models.JSONField(default=dict)),
                        ("least", models.FloatField()),
                        ("most", models.FloatField()),
                        ("shown_low", models.FloatField()),
                        ("shown_high", models.FloatField()),
                        ("painted", models.JSONField(blank=True, default=list)),
                        ("file_bytes", models.PositiveBigIntegerField(blank=True, null=True)),
                        (
                            "file_sha256",
                            models.CharField(blank=True, db_default="", default="", max_length=64),
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
                            "film",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="images",
                                to="followup.film",
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
                                name="followup_filmimage_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_filmimage_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_filmimage_changed_after_recorded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("columns__gte", 1), ("frames__gte", 1), ("rows__gte", 1)
                                ),
                                name="followup_filmimage_not_empty",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("most__gte", models.F("least")),
                                    ("shown_high__gte", models.F("shown_low")),
                                ),
                                name="followup_filmimage_levels_in_order",
                            ),
                            models.UniqueConstraint(
                                fields=("stored_name",), name="followup_filmimage_one_file"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["dicom", "png", "jpeg"])),
                                name="followup_filmimage_kind_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("voided_at__isnull", True)),
                                fields=("site", "content_hash"),
                                name="followup_filmimage_once",
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                        ("first_decided_on", models.DateField(blank=True, null=True)),
                        ("waiting_since", models.DateField()),
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
                        "indexes": [
                            models.Index(
                                fields=["site", "state"], name="followup_hardware_by_state"
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
                                        [
                                            "raised",
                                            "discussed",
                                            "planned",
                                            "deferred",
                                            "declined",
                                            "done",
                                        ],
                                    )
                                ),
                                name="followup_hardware_state_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "raised_because__in",
                                        [
                                            "planned_removal",
                                            "symptoms",
                                            "complication",
                                            "clinician",
                                        ],
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
                                    models.Q(
                                        ("deferred_until__isnull", False), ("state", "deferred")
                                    ),
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
                                    models.Q(
                                        ("state__in", ["deferred", "declined"]), _negated=True
                                    ),
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
                    name="HardwareStep",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                    ("raised", "Raised"),
                                    ("told", "More was found"),
                                    ("discussed", "Discussed"),
                                    ("planned", "Removal planned"),
                                    ("deferred", "Deferred"),
                                    ("came_back", "Came back on its day"),
                                    ("declined", "Declined"),
                                    ("asked_again", "Asked again"),
                                    ("done", "Removed"),
                                ],
                                max_length=12,
                            ),
                        ),
                        ("on", models.DateField()),
                        ("wish_on", models.DateField(blank=True, null=True)),
                        ("deferred_until", models.DateField(blank=True, null=True)),
                        (
                            "source",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("film", "A film"),
                                    ("complication", "A complication"),
                                    ("patient", "The patient's answer"),
                                    ("clinician", "A clinician"),
                                ],
                                default="",
                                max_length=12,
                            ),
                        ),
                        ("fact", models.CharField(blank=True, default="", max_length=160)),
                        ("words", models.CharField(blank=True, default="", max_length=300)),
                        (
                            "changed_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "decision",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="steps",
                                to="followup.hardwaredecision",
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
                        "ordering": ["id"],
                        "abstract": False,
                        "base_manager_name": "everything",
                        "indexes": [
                            models.Index(
                                fields=["decision", "kind"], name="followup_hardwarestep_kind"
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
                                name="followup_hardwarestep_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_hardwarestep_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_hardwarestep_changed_after_recorded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "kind__in",
                                        [
                                            "raised",
                                            "told",
                                            "discussed",
                                            "planned",
                                            "deferred",
                                            "came_back",
                                            "declined",
                                            "asked_again",
                                            "done",
                                        ],
                                    )
                                ),
                                name="followup_hardwarestep_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "source__in",
                                        ["", "film", "complication", "patient", "clinician"],
                                    )
                                ),
                                name="followup_hardwarestep_source_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    models.Q(("fact", ""), _negated=True),
                                    ("voided_at__isnull", True),
                                ),
                                fields=("decision", "fact"),
                                name="followup_hardwarestep_fact_once",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="HeldDay",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("on", models.DateField()),
                        ("holiday", models.CharField(max_length=120)),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="held_days",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["on"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("site", "on"), name="followup_heldday_once"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="HospitalSlot",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("filler", models.CharField(blank=True, default="", max_length=120)),
                        ("placer", models.CharField(blank=True, default="", max_length=120)),
                        (
                            "act",
                            models.CharField(
                                choices=[
                                    ("booked", "Booked"),
                                    ("cancelled", "Cancelled"),
                                    ("missed", "Missed"),
                                    ("elsewhere", "At a clinic that is not ours"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("on", models.DateField(blank=True, null=True)),
                        ("at", models.TimeField(blank=True, null=True)),
                        ("clock", models.CharField(max_length=180)),
                        ("first_clock", models.CharField(max_length=180)),
                        ("made", models.BooleanField(db_default=False, default=False)),
                        (
                            "appointment",
                            models.OneToOneField(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="hospital_slot",
                                to="followup.appointment",
                            ),
                        ),
                        (
                            "clinic",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="followup.clinic",
                            ),
                        ),
                        (
                            "message",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.SET_NULL,
                                related_name="+",
                                to="registry.hospitalmessage",
                            ),
                        ),
                        (
                            "patient",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="hospital_slots",
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
                        "ordering": ["first_clock", "id"],
                        "indexes": [
                            models.Index(fields=["site", "placer"], name="followup_slot_by_placer")
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("act__in", ["booked", "cancelled", "missed", "elsewhere"])
                                ),
                                name="followup_hospitalslot_act_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("filler", ""), _negated=True),
                                fields=("site", "filler"),
                                name="followup_hospitalslot_filler_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("filler", ""), _negated=True),
                                    models.Q(("placer", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="followup_hospitalslot_has_name",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("act", "booked"), _negated=True),
                                    models.Q(
                                        ("at__isnull", False),
                                        ("clinic__isnull", False),
                                        ("on__isnull", False),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_hospitalslot_booked_has_place",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ImageCalibration",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                            "how",
                            models.CharField(
                                choices=[
                                    ("marker", "A marker of known size on the film"),
                                    (
                                        "fiducial",
                                        "The file: pixel spacing by an object of known size",
                                    ),
                                    (
                                        "geometry",
                                        "The file: pixel spacing corrected for magnification",
                                    ),
                                    (
                                        "magnification",
                                        "The file: detector spacing and estimated magnification",
                                    ),
                                    (
                                        "distances",
                                        "The file: detector spacing and distances from the source",
                                    ),
                                    ("detector", "The file: at the detector, ratios only"),
                                    (
                                        "untold",
                                        "The file: pixel spacing of unknown meaning, ratios only",
                                    ),
                                    ("none", "None: ratios only"),
                                ],
                                max_length=14,
                            ),
                        ),
                        ("mm_per_pixel_row", models.FloatField(blank=True, null=True)),
                        ("mm_per_pixel_column", models.FloatField(blank=True, null=True)),
                        ("aspect", models.FloatField(default=1.0)),
                        ("facts", models.JSONField(blank=True, default=dict)),
                        (
                            "changed_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "image",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="calibrations",
                                to="followup.filmimage",
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
                                to="followup.imagecalibration",
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
                        "ordering": ["image", "id"],
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
                                name="followup_imagecalibration_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_imagecalibration_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_imagecalibration_changed_after_recorded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "how__in",
                                        [
                                            "marker",
                                            "fiducial",
                                            "geometry",
                                            "magnification",
                                            "distances",
                                            "detector",
                                            "untold",
                                            "none",
                                        ],
                                    )
                                ),
                                name="followup_imagecalibration_how_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("superseded_by__isnull", True), ("voided_at__isnull", True)
                                ),
                                fields=("image",),
                                name="followup_imagecalibration_one_current",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("mm_per_pixel_column__isnull", True),
                                        ("mm_per_pixel_row__isnull", True),
                                    ),
                                    models.Q(
                                        ("mm_per_pixel_column__gt", 0), ("mm_per_pixel_row__gt", 0)
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_imagecalibration_size_possible",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("aspect__gt", 0)),
                                name="followup_imagecalibration_aspect_possible",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        (
                                            "how__in",
                                            [
                                                "distances",
                                                "fiducial",
                                                "geometry",
                                                "magnification",
                                                "marker",
                                            ],
                                        ),
                                        _negated=True,
                                    ),
                                    ("mm_per_pixel_column__isnull", False),
                                    _connector="OR",
                                ),
                                name="followup_imagecalibration_true_has_size",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="ImportDraft",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("token", models.CharField(max_length=40, unique=True)),
                        ("file_name", models.CharField(max_length=200)),
                        ("size", models.PositiveBigIntegerField(default=0)),
                        ("brought_at", models.DateTimeField()),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("reading", "Being read"),
                                    ("settling", "Waiting for what its columns mean"),
                                    ("checking", "Being checked"),
                                    ("checked", "Checked"),
                                    ("landing", "Being imported"),
                                    ("landed", "Imported"),
                                ],
                                default="reading",
                                max_length=10,
                            ),
                        ),
                        ("fault", models.CharField(blank=True, default="", max_length=600)),
                        ("encoding", models.CharField(blank=True, default="", max_length=20)),
                        ("separator", models.CharField(blank=True, default="", max_length=1)),
                        ("previews", models.JSONField(blank=True, default=list)),
                        ("header", models.JSONField(blank=True, default=list)),
                        ("notes", models.JSONField(blank=True, default=list)),
                        ("counts_from", models.CharField(blank=True, default="", max_length=4)),
                        ("survey", models.JSONField(blank=True, default=list)),
                        ("mapping", models.JSONField(blank=True, default=dict)),
                        ("columns_settled", models.BooleanField(default=False)),
                        ("days_settled", models.BooleanField(default=False)),
                        ("words_settled", models.BooleanField(default=False)),
                        ("rows", models.PositiveIntegerField(default=0)),
                        ("rows_done", models.PositiveIntegerField(default=0)),
                        ("rows_good", models.PositiveIntegerField(default=0)),
                        ("rows_known", models.PositiveIntegerField(default=0)),
                        ("rows_rejected", models.PositiveIntegerField(default=0)),
                        ("rows_waiting", models.PositiveIntegerField(default=0)),
                        ("settled_line", models.PositiveIntegerField(default=0)),
                        ("holder", models.CharField(blank=True, default="", max_length=40)),
                        ("held_until", models.DateTimeField(blank=True, null=True)),
                        ("waited", models.JSONField(blank=True, default=list)),
                        ("erased_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "batch",
                            models.OneToOneField(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="draft",
                                to="registry.importbatch",
                            ),
                        ),
                        (
                            "brought_by",
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
                        "ordering": ["-brought_at", "-id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        [
                                            "reading",
                                            "settling",
                                            "checking",
                                            "checked",
                                            "landing",
                                            "landed",
                                        ],
                                    )
                                ),
                                name="followup_importdraft_state_known",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ImportFinding",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("line", models.PositiveIntegerField()),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("rejected", "Cannot be used"),
                                    ("known", "Known already"),
                                    ("waiting", "Waiting for a decision"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("column", models.CharField(blank=True, default="", max_length=200)),
                        ("value", models.CharField(blank=True, default="", max_length=200)),
                        ("reason", models.TextField()),
                        (
                            "draft",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="findings",
                                to="followup.importdraft",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["line", "id"],
                        "indexes": [
                            models.Index(
                                fields=["draft", "kind", "line"], name="followup_importfinding_line"
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["rejected", "known", "waiting"])),
                                name="followup_importfinding_kind_known",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ImportPair",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("line", models.PositiveIntegerField()),
                        ("number", models.CharField(max_length=60)),
                        ("person", models.JSONField()),
                        ("other_line", models.PositiveIntegerField(blank=True, null=True)),
                        ("other_number", models.CharField(blank=True, default="", max_length=60)),
                        ("other_person", models.JSONField(blank=True, default=dict)),
                        ("other_key", models.CharField(max_length=80)),
                        ("weight", models.FloatField()),
                        ("likely", models.BooleanField()),
                        ("because", models.CharField(max_length=200)),
                        (
                            "answer",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("", "Not decided"),
                                    ("same", "The same patient"),
                                    ("other", "Another person"),
                                ],
                                default="",
                                max_length=10,
                            ),
                        ),
                        ("answered_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "answered_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "draft",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="pairs",
                                to="followup.importdraft",
                            ),
                        ),
                        (
                            "other_patient",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="registry.patient",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["line", "-weight", "id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("answer__in", ["", "same", "other"])),
                                name="followup_importpair_answer_known",
                            ),
                            models.UniqueConstraint(
                                fields=("draft", "number", "other_key"),
                                name="followup_importpair_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("other_number", ""), ("other_patient__isnull", False)
                                    ),
                                    models.Q(
                                        ("other_patient__isnull", True),
                                        models.Q(("other_number", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_importpair_has_other",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="IncomingImage",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                        ("content_hash", models.CharField(max_length=64)),
                        ("stored_name", models.CharField(max_length=80)),
                        (
                            "kind",
                            models.CharField(
                                choices=[("dicom", "DICOM"), ("png", "PNG"), ("jpeg", "JPEG")],
                                max_length=5,
                            ),
                        ),
                        ("rows", models.PositiveIntegerField()),
                        ("columns", models.PositiveIntegerField()),
                        ("frames", models.PositiveIntegerField(default=1)),
                        ("facts", models.JSONField(default=dict)),
                        ("least", models.FloatField()),
                        ("most", models.FloatField()),
                        ("shown_low", models.FloatField()),
                        ("shown_high", models.FloatField()),
                        ("painted", models.JSONField(blank=True, default=list)),
                        (
                            "burnt_in",
                            models.CharField(
                                choices=[
                                    (
                                        "said",
                                        "The file says that writing is burnt into the picture",
                                    ),
                                    (
                                        "likely",
                                        "Pictures of this kind often carry burnt-in writing",
                                    ),
                                    (
                                        "seen",
                                        "Something that looks like writing stands in the picture",
                                    ),
                                    ("denied", "The file says that nothing is burnt in"),
                                    (
                                        "unknown",
                                        "The file does not say whether anything is burnt in",
                                    ),
                                ],
                                default="unknown",
                                max_length=7,
                            ),
                        ),
                        (
                            "posture",
                            models.CharField(blank=True, db_default="", default="", max_length=10),
                        ),
                        (
                            "view",
                            models.CharField(blank=True, db_default="", default="", max_length=10),
                        ),
                        ("file_bytes", models.PositiveBigIntegerField(blank=True, null=True)),
                        (
                            "file_sha256",
                            models.CharField(blank=True, db_default="", default="", max_length=64),
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
                            "image",
                            models.OneToOneField(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="arrived_as",
                                to="followup.filmimage",
                            ),
                        ),
                        (
                            "injury",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="registry.injury",
                            ),
                        ),
                        (
                            "named",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.SET_NULL,
                                related_name="+",
                                to="registry.headeridentity",
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
                                name="followup_incomingimage_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_incomingimage_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_incomingimage_changed_after_recorded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("columns__gte", 1), ("frames__gte", 1), ("rows__gte", 1)
                                ),
                                name="followup_incomingimage_not_empty",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("most__gte", models.F("least")),
                                    ("shown_high__gte", models.F("shown_low")),
                                ),
                                name="followup_incomingimage_levels_in_order",
                            ),
                            models.UniqueConstraint(
                                fields=("stored_name",), name="followup_incomingimage_one_file"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["dicom", "png", "jpeg"])),
                                name="followup_incomingimage_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "burnt_in__in",
                                        ["said", "likely", "seen", "denied", "unknown"],
                                    )
                                ),
                                name="followup_incomingimage_burnt_in_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("image__isnull", True), ("voided_at__isnull", True)
                                ),
                                fields=("site", "content_hash"),
                                name="followup_incomingimage_once",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="Invitation",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("contents", models.JSONField(default=list)),
                        (
                            "language",
                            models.CharField(
                                choices=[("en", "English"), ("de", "Deutsch")],
                                default="en",
                                max_length=10,
                            ),
                        ),
                        ("made_at", models.DateTimeField()),
                        ("sent_at", models.DateTimeField(blank=True, null=True)),
                        ("expires_at", models.DateTimeField()),
                        ("reminder", models.PositiveSmallIntegerField(default=0)),
                        ("opened_at", models.DateTimeField(blank=True, null=True)),
                        ("at_page", models.CharField(blank=True, default="", max_length=24)),
                        ("completed_at", models.DateTimeField(blank=True, null=True)),
                        ("landed_at", models.DateTimeField(blank=True, null=True)),
                        ("revoked_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "revoked_because",
                            models.CharField(blank=True, default="", max_length=200),
                        ),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="invitations",
                                to="registry.site",
                            ),
                        ),
                        (
                            "review",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="invitations",
                                to="followup.review",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["made_at", "id"],
                        "indexes": [
                            models.Index(
                                fields=["site", "expires_at"], name="followup_in_site_id_13ad27_idx"
                            ),
                            models.Index(
                                condition=models.Q(
                                    ("completed_at__isnull", True), ("revoked_at__isnull", True)
                                ),
                                fields=["expires_at"],
                                name="followup_invitation_open",
                            ),
                        ],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("revoked_at__isnull", True)),
                                fields=("review",),
                                name="followup_invitation_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("revoked_at__isnull", True), ("revoked_because", "")),
                                    models.Q(
                                        ("revoked_at__isnull", False),
                                        models.Q(("revoked_because", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_invitation_revoked_says_why",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("expires_at__gt", models.F("made_at"))),
                                name="followup_invitation_expires_later",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="InvitationLink",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("token_hash", models.CharField(max_length=64, unique=True)),
                        ("issued_at", models.DateTimeField()),
                        (
                            "invitation",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="links",
                                to="followup.invitation",
                            ),
                        ),
                        (
                            "issued_by",
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
                        "ordering": ["issued_at", "id"],
                    },
                ),
                migrations.CreateModel(
                    name="Letter",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                    ("note", "Visit note"),
                                    ("referrer", "Letter to the referring doctor"),
                                    ("patient", "Letter to the patient"),
                                ],
                                max_length=8,
                            ),
                        ),
                        ("number", models.PositiveSmallIntegerField(default=1)),
                        (
                            "state",
                            models.CharField(
                                choices=[("draft", "Draft"), ("sent", "Sent")],
                                default="draft",
                                max_length=5,
                            ),
                        ),
                        ("content_hash", models.CharField(max_length=64)),
                        ("sent_on", models.DateField(blank=True, null=True)),
                        (
                            "sent_by_means",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("post", "By post"),
                                    ("handed", "Handed over"),
                                    ("filed", "Filed in the hospital's record"),
                                ],
                                default="",
                                max_length=6,
                            ),
                        ),
                        ("pages_hash", models.CharField(blank=True, default="", max_length=64)),
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
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="letters",
                                to="followup.review",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["review", "kind", "number"],
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
                                name="followup_letter_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_letter_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_letter_changed_after_recorded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["note", "referrer", "patient"])),
                                name="followup_letter_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("state__in", ["draft", "sent"])),
                                name="followup_letter_state_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("voided_at__isnull", True)),
                                fields=("review", "kind", "number"),
                                name="followup_letter_number_once",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("state", "draft"), ("voided_at__isnull", True)),
                                fields=("review", "kind"),
                                name="followup_letter_one_draft",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("pages_hash", ""),
                                        ("sent_by_means", ""),
                                        ("sent_on__isnull", True),
                                        ("state", "draft"),
                                    ),
                                    models.Q(
                                        ("sent_by_means__in", ["post", "handed", "filed"]),
                                        ("sent_on__isnull", False),
                                        ("state", "sent"),
                                        models.Q(("pages_hash", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_letter_sent_is_whole",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="LetterText",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("version", models.PositiveIntegerField()),
                        ("head", models.JSONField(blank=True, default=list)),
                        ("addressee", models.TextField(blank=True, default="", max_length=600)),
                        ("body", models.TextField(max_length=12000)),
                        ("pages", models.BinaryField(blank=True, null=True)),
                        ("saved_at", models.DateTimeField()),
                        (
                            "letter",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="texts",
                                to="followup.letter",
                            ),
                        ),
                        (
                            "saved_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["letter", "version"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("letter", "version"),
                                name="followup_lettertext_version_once",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="LoadProposal",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("weeks", models.PositiveSmallIntegerField()),
                        ("made_at", models.DateTimeField()),
                        ("made_on", models.DateField()),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("proposed", "Proposed"),
                                    ("applied", "Applied"),
                                    ("discarded", "Discarded"),
                                ],
                                default="proposed",
                                max_length=10,
                            ),
                        ),
                        ("decided_at", models.DateTimeField(blank=True, null=True)),
                        ("considered", models.PositiveIntegerField()),
                        ("days", models.JSONField(default=list)),
                        ("shortages", models.JSONField(blank=True, default=list)),
                        ("calendar_digest", models.CharField(max_length=64)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "decided_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "made_by",
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
                                related_name="load_proposals",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-made_at", "-id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("state__in", ["proposed", "applied", "discarded"])
                                ),
                                name="followup_loadproposal_state_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("state", "proposed")),
                                fields=("site",),
                                name="followup_loadproposal_one_open",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("decided_at__isnull", True), ("state", "proposed")),
                                    models.Q(
                                        models.Q(("state", "proposed"), _negated=True),
                                        ("decided_at__isnull", False),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_loadproposal_decided_has_time",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Message",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        (
                            "purpose",
                            models.CharField(
                                choices=[
                                    ("appointment_booked", "Appointment booked"),
                                    ("appointment_cancelled", "Appointment cancelled"),
                                    ("reminder", "Reminder of a review"),
                                    ("questionnaire", "Questionnaire"),
                                ],
                                max_length=24,
                            ),
                        ),
                        ("means", models.CharField(blank=True, default="", max_length=10)),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("waiting", "Waiting"),
                                    ("sending", "Being sent"),
                                    ("sent", "Sent"),
                                    ("stopped", "Stopped"),
                                    ("failed", "Failed"),
                                    ("unknown", "Not known whether it went"),
                                ],
                                default="waiting",
                                max_length=10,
                            ),
                        ),
                        ("wanted_at", models.DateTimeField()),
                        ("claimed_at", models.DateTimeField(blank=True, null=True)),
                        ("sent_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "stopped_because",
                            models.CharField(blank=True, default="", max_length=200),
                        ),
                        ("key", models.CharField(max_length=120)),
                        ("number", models.PositiveSmallIntegerField(default=0)),
                        ("uuid", models.UUIDField(default=uuid.uuid4, editable=False)),
                        ("claim", models.UUIDField(blank=True, editable=False, null=True)),
                        ("handed_at", models.DateTimeField(blank=True, null=True)),
                        ("round", models.PositiveSmallIntegerField(db_default=1, default=1)),
                        ("tries", models.PositiveSmallIntegerField(db_default=0, default=0)),
                        ("version", models.PositiveIntegerField(db_default=1, default=1)),
                        (
                            "appointment",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="messages",
                                to="followup.appointment",
                            ),
                        ),
                        (
                            "invitation",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="messages",
                                to="followup.invitation",
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
                        (
                            "template",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="followup.messagetemplate",
                            ),
                        ),
                        (
                            "review",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="messages",
                                to="followup.review",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["wanted_at", "id"],
                        "indexes": [
                            models.Index(
                                fields=["state", "wanted_at"], name="followup_me_state_daf5ab_idx"
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state", "sent"), _negated=True),
                                    ("sent_at__isnull", False),
                                    _connector="OR",
                                ),
                                name="followup_message_sent_has_time",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "purpose__in",
                                        [
                                            "appointment_booked",
                                            "appointment_cancelled",
                                            "reminder",
                                            "questionnaire",
                                        ],
                                    )
                                ),
                                name="followup_message_purpose_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("appointment__isnull", False),
                                    models.Q(
                                        (
                                            "purpose__in",
                                            ["appointment_booked", "appointment_cancelled"],
                                        ),
                                        _negated=True,
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_message_slot_named",
                            ),
                            models.UniqueConstraint(
                                fields=("key",), name="followup_message_key_once"
                            ),
                            models.UniqueConstraint(
                                fields=("uuid",), name="followup_message_uuid_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        [
                                            "waiting",
                                            "sending",
                                            "sent",
                                            "stopped",
                                            "failed",
                                            "unknown",
                                        ],
                                    )
                                ),
                                name="followup_message_state_known",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="MessagePolicy",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("sends_email", models.BooleanField(default=True)),
                        ("sends_text", models.BooleanField(default=False)),
                        ("sends_letter", models.BooleanField(default=False)),
                        ("email_quiet_from", models.TimeField(default=datetime.time(21, 0))),
                        ("email_quiet_until", models.TimeField(default=datetime.time(8, 0))),
                        ("text_quiet_from", models.TimeField(default=datetime.time(21, 0))),
                        ("text_quiet_until", models.TimeField(default=datetime.time(8, 0))),
                        ("letter_quiet_from", models.TimeField(default=datetime.time(21, 0))),
                        ("letter_quiet_until", models.TimeField(default=datetime.time(8, 0))),
                        ("most_a_day", models.PositiveSmallIntegerField(default=1)),
                        ("most_a_week", models.PositiveSmallIntegerField(default=3)),
                        ("language", models.CharField(default="en", max_length=10)),
                        ("reminder_count", models.PositiveSmallIntegerField(default=2)),
                        ("reminder_first_day", models.PositiveSmallIntegerField(default=3)),
                        ("reminder_spacing_days", models.PositiveSmallIntegerField(default=7)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "country_code",
                            models.CharField(blank=True, db_default="", default="", max_length=4),
                        ),
                        (
                            "stop_words",
                            models.JSONField(
                                blank=True, default=followup.models.messages.shipped_stop_words
                            ),
                        ),
                        (
                            "site",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="message_policy",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "message policies",
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("most_a_day__gte", 1),
                                    ("most_a_week__gte", models.F("most_a_day")),
                                ),
                                name="followup_messagepolicy_caps_in_order",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("reminder_count__lte", 10), ("reminder_spacing_days__gte", 1)
                                ),
                                name="followup_messagepolicy_reminders_possible",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="MessageStep",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("claimed", "Taken up by a worker"),
                                    ("handing_over", "Being handed over"),
                                    ("accepted", "Accepted"),
                                    ("refused", "Refused for good"),
                                    ("failed", "Could not be handed over"),
                                    ("unknown", "Not known whether it went"),
                                    ("looked_up", "Asked the carrier"),
                                    (
                                        "released",
                                        "Given back: its worker ended before handing it over",
                                    ),
                                    ("put_off", "Put off"),
                                    ("stopped", "Stopped"),
                                    ("sent_again", "To be sent again, by a person's decision"),
                                    ("marked_delivered", "Marked as delivered by a person"),
                                    ("given_up", "Given up by a person"),
                                ],
                                max_length=16,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("round", models.PositiveSmallIntegerField()),
                        ("number", models.PositiveSmallIntegerField()),
                        ("means", models.CharField(blank=True, default="", max_length=10)),
                        ("carrier", models.CharField(blank=True, default="", max_length=20)),
                        ("reference", models.CharField(blank=True, default="", max_length=120)),
                        ("detail", models.CharField(blank=True, default="", max_length=300)),
                        (
                            "by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "message",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="steps",
                                to="followup.message",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "kind__in",
                                        [
                                            "claimed",
                                            "handing_over",
                                            "accepted",
                                            "refused",
                                            "failed",
                                            "unknown",
                                            "looked_up",
                                            "released",
                                            "put_off",
                                            "stopped",
                                            "sent_again",
                                            "marked_delivered",
                                            "given_up",
                                        ],
                                    )
                                ),
                                name="followup_messagestep_kind_known",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="MessageTemplate",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        (
                            "purpose",
                            models.CharField(
                                choices=[
                                    ("appointment_booked", "Appointment booked"),
                                    ("appointment_cancelled", "Appointment cancelled"),
                                    ("reminder", "Reminder of a review"),
                                    ("questionnaire", "Questionnaire"),
                                ],
                                max_length=24,
                            ),
                        ),
                        (
                            "length",
                            models.CharField(
                                choices=[("short", "Text message"), ("long", "E-mail or letter")],
                                max_length=5,
                            ),
                        ),
                        ("language", models.CharField(max_length=10)),
                        ("number", models.PositiveSmallIntegerField(default=1)),
                        ("subject", models.CharField(blank=True, default="", max_length=120)),
                        ("body", models.TextField(max_length=4000)),
                        ("made_at", models.DateTimeField()),
                        (
                            "made_by",
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
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["purpose", "length", "language", "-number"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "purpose__in",
                                        [
                                            "appointment_booked",
                                            "appointment_cancelled",
                                            "reminder",
                                            "questionnaire",
                                        ],
                                    )
                                ),
                                name="followup_messagetemplate_purpose_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("length__in", ["short", "long"])),
                                name="followup_messagetemplate_length_known",
                            ),
                            models.UniqueConstraint(
                                fields=("site", "purpose", "length", "language", "number"),
                                name="followup_messagetemplate_once",
                                nulls_distinct=False,
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("body", ""), _negated=True),
                                name="followup_messagetemplate_has_text",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="MotionExam",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                            models.CharField(
                                choices=[("left", "Left"), ("right", "Right")], max_length=8
                            ),
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("code", models.SlugField(max_length=12)),
                        ("name", models.CharField(max_length=60)),
                        ("offset_value", models.PositiveSmallIntegerField()),
                        (
                            "offset_unit",
                            models.CharField(
                                choices=[
                                    ("days", "Days"),
                                    ("weeks", "Weeks"),
                                    ("months", "Months"),
                                ],
                                max_length=8,
                            ),
                        ),
                        ("window_before_days", models.PositiveSmallIntegerField()),
                        ("window_after_days", models.PositiveSmallIntegerField()),
                        ("film_views", models.JSONField(blank=True, default=list)),
                        ("motion", models.BooleanField(default=False)),
                        ("scores", models.JSONField(blank=True, default=list)),
                        ("wound_check", models.BooleanField(default=False)),
                        ("complication_screen", models.BooleanField(default=True)),
                        ("horizon", models.CharField(blank=True, default="", max_length=4)),
                        ("source_note", models.CharField(blank=True, default="", max_length=300)),
                        ("film_sides", models.JSONField(blank=True, default=dict)),
                        ("free_items", models.JSONField(blank=True, default=list)),
                        ("milestones", models.JSONField(blank=True, default=list)),
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
                                condition=models.Q(
                                    ("offset_unit__in", ["days", "weeks", "months"])
                                ),
                                name="followup_step_unit_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("horizon__in", ["", "6w", "3m", "6m", "12m", "24m"])
                                ),
                                name="followup_step_horizon_known",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Questionnaire",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("step_code", models.SlugField(max_length=12)),
                        ("number", models.PositiveSmallIntegerField()),
                        ("contents", models.JSONField(blank=True, default=list)),
                        ("made_at", models.DateTimeField()),
                        (
                            "made_by",
                            models.ForeignKey(
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
                                related_name="questionnaires",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["site", "step_code", "-number"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("site", "step_code", "number"),
                                name="followup_questionnaire_once",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="QuestionnaireSetup",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("invites", models.BooleanField(default=False)),
                        ("expiry_days", models.PositiveSmallIntegerField(default=21)),
                        (
                            "reminder_days",
                            models.JSONField(
                                blank=True,
                                default=followup.models.questionnaires.shipped_reminder_days,
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "site",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="questionnaire_setup",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("expiry_days__gte", 1), ("expiry_days__lte", 90)
                                ),
                                name="followup_questionnaire_expiry_days",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Reading",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=4, null=True
                            ),
                        ),
                        (
                            "ccd_other_mm",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=4, null=True
                            ),
                        ),
                        (
                            "ccd_side_ratio_pct",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=5, null=True
                            ),
                        ),
                        (
                            "translation_pct",
                            models.PositiveSmallIntegerField(blank=True, null=True),
                        ),
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
                            "acd_injured_mm",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=4, null=True
                            ),
                        ),
                        (
                            "acd_other_mm",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=4, null=True
                            ),
                        ),
                        ("landmarks", models.JSONField(blank=True, default=dict)),
                        (
                            "cortices_bridged",
                            models.PositiveSmallIntegerField(blank=True, null=True),
                        ),
                        (
                            "fracture_line",
                            models.CharField(
                                choices=[
                                    ("visible", "Visible"),
                                    ("not_visible", "Not visible"),
                                    ("unknown", "Cannot be judged"),
                                    ("not_applicable", "Not applicable"),
                                    ("not_done", "Not looked for"),
                                ],
                                db_default="not_done",
                                default="not_done",
                                max_length=16,
                            ),
                        ),
                        ("turn", models.PositiveSmallIntegerField(db_default=1, default=1)),
                        (
                            "calibration_used",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="readings",
                                to="followup.imagecalibration",
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
                            "film",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="readings",
                                to="followup.film",
                            ),
                        ),
                        (
                            "image",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="readings",
                                to="followup.filmimage",
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
                                        models.Q(
                                            ("ccd_injured_mm__gt", 0), ("ccd_injured_mm__lte", 60)
                                        ),
                                        _connector="OR",
                                    ),
                                    models.Q(
                                        ("ccd_other_mm__isnull", True),
                                        models.Q(
                                            ("ccd_other_mm__gt", 0), ("ccd_other_mm__lte", 60)
                                        ),
                                        _connector="OR",
                                    ),
                                ),
                                name="followup_reading_ccd_possible",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("ccd_side_ratio_pct__isnull", True),
                                    models.Q(
                                        ("ccd_side_ratio_pct__gte", -100),
                                        ("ccd_side_ratio_pct__lte", 600),
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
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("acd_injured_mm__isnull", True),
                                        models.Q(
                                            ("acd_injured_mm__gte", -60),
                                            ("acd_injured_mm__lte", 60),
                                        ),
                                        _connector="OR",
                                    ),
                                    models.Q(
                                        ("acd_other_mm__isnull", True),
                                        models.Q(
                                            ("acd_other_mm__gte", -60), ("acd_other_mm__lte", 60)
                                        ),
                                        _connector="OR",
                                    ),
                                ),
                                name="followup_reading_acd_possible",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "fracture_line__in",
                                        [
                                            "visible",
                                            "not_visible",
                                            "unknown",
                                            "not_applicable",
                                            "not_done",
                                        ],
                                    )
                                ),
                                name="followup_reading_fracture_line_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("cortices_bridged__isnull", True),
                                    ("cortices_bridged__lte", 4),
                                    _connector="OR",
                                ),
                                name="followup_reading_cortices_possible",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("turn__gte", 1)),
                                name="followup_reading_turn_from_1",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="ReadingFinding",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                    ("screw_loosened", "Screw loosened"),
                                    ("screw_backed_out", "Screw backed out"),
                                    ("screw_broken", "Screw broken"),
                                    ("plate_lifted", "Plate lifted off the bone"),
                                    ("plate_broken", "Plate broken"),
                                    ("hook_migrated", "Hook migrated"),
                                    ("anchor_moved", "Anchor or button moved"),
                                    ("acromial_erosion", "Erosion of the acromion"),
                                    ("tunnel_widened", "Coracoid tunnel widened"),
                                    ("coracoid_fracture", "Coracoid fractured"),
                                    ("ossification", "Coracoclavicular ligaments ossified"),
                                    ("ac_degeneration", "Degeneration of the AC joint"),
                                ],
                                max_length=20,
                            ),
                        ),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("absent", "Looked for and not there"),
                                    ("present", "There"),
                                    ("not_assessable", "Cannot be judged"),
                                    ("not_applicable", "Not applicable"),
                                ],
                                max_length=16,
                            ),
                        ),
                        ("grade", models.PositiveSmallIntegerField(blank=True, null=True)),
                        ("place", models.CharField(blank=True, default="", max_length=16)),
                        (
                            "changed_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "reading",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="findings",
                                to="followup.reading",
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
                        "ordering": ["reading", "id"],
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
                                name="followup_readingfinding_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_readingfinding_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_readingfinding_changed_after_recorded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "kind__in",
                                        [
                                            "screw_loosened",
                                            "screw_backed_out",
                                            "screw_broken",
                                            "plate_lifted",
                                            "plate_broken",
                                            "hook_migrated",
                                            "anchor_moved",
                                            "acromial_erosion",
                                            "tunnel_widened",
                                            "coracoid_fracture",
                                            "ossification",
                                            "ac_degeneration",
                                        ],
                                    )
                                ),
                                name="followup_readingfinding_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        ["absent", "present", "not_assessable", "not_applicable"],
                                    )
                                ),
                                name="followup_readingfinding_state_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("voided_at__isnull", True)),
                                fields=("reading", "kind"),
                                name="followup_readingfinding_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("state", "present"),
                                    models.Q(("grade__isnull", True), ("place", "")),
                                    _connector="OR",
                                ),
                                name="followup_readingfinding_absent_is_plain",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("grade__isnull", True),
                                        ("state", "present"),
                                        models.Q(
                                            ("kind__in", ["ac_degeneration", "acromial_erosion"]),
                                            _negated=True,
                                        ),
                                    ),
                                    models.Q(
                                        ("grade__in", (1, 2, 3)),
                                        ("grade__isnull", False),
                                        ("kind__in", ["ac_degeneration", "acromial_erosion"]),
                                    ),
                                    models.Q(("state", "present"), _negated=True),
                                    _connector="OR",
                                ),
                                name="followup_readingfinding_graded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "place__in",
                                        [
                                            "",
                                            "lateral",
                                            "shaft",
                                            "both",
                                            "medial",
                                            "anchor",
                                            "coracoid_button",
                                            "clavicle_button",
                                        ],
                                    )
                                ),
                                name="followup_readingfinding_place_known",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="ReadingPolicy",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        (
                            "draw",
                            models.CharField(
                                choices=[
                                    ("none", "No film"),
                                    ("all", "Every film"),
                                    ("share", "A random share"),
                                    ("near", "Every film near a threshold"),
                                ],
                                default="none",
                                max_length=8,
                            ),
                        ),
                        (
                            "share_pct",
                            models.PositiveSmallIntegerField(
                                default=10,
                                validators=[
                                    django.core.validators.MinValueValidator(1),
                                    django.core.validators.MaxValueValidator(100),
                                ],
                            ),
                        ),
                        ("seed", models.CharField(default="1", max_length=40)),
                        ("taken_from", models.DateField(blank=True, null=True)),
                        (
                            "near_change_mm",
                            models.DecimalField(
                                decimal_places=1,
                                default=3,
                                max_digits=3,
                                validators=[
                                    django.core.validators.MinValueValidator(0.1),
                                    django.core.validators.MaxValueValidator(30),
                                ],
                            ),
                        ),
                        (
                            "near_ratio_pct",
                            models.DecimalField(
                                decimal_places=1,
                                default=25,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0.1),
                                    django.core.validators.MaxValueValidator(300),
                                ],
                            ),
                        ),
                        (
                            "near_margin_pct",
                            models.DecimalField(
                                decimal_places=1,
                                default=20,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0.1),
                                    django.core.validators.MaxValueValidator(300),
                                ],
                            ),
                        ),
                        (
                            "mdc_mm",
                            models.DecimalField(
                                decimal_places=1,
                                default=2.0,
                                max_digits=3,
                                validators=[
                                    django.core.validators.MinValueValidator(0.1),
                                    django.core.validators.MaxValueValidator(30),
                                ],
                            ),
                        ),
                        (
                            "third_mm",
                            models.DecimalField(
                                decimal_places=1,
                                default=2.0,
                                max_digits=3,
                                validators=[
                                    django.core.validators.MinValueValidator(0.1),
                                    django.core.validators.MaxValueValidator(30),
                                ],
                            ),
                        ),
                        (
                            "third_pct",
                            models.DecimalField(
                                decimal_places=1,
                                default=20,
                                max_digits=4,
                                validators=[
                                    django.core.validators.MinValueValidator(0.1),
                                    django.core.validators.MaxValueValidator(300),
                                ],
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "site",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="reading_policy",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "reading policies",
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("draw__in", ["none", "all", "share", "near"])),
                                name="followup_readingpolicy_draw_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("share_pct__gte", 1),
                                    ("share_pct__lte", 100),
                                    models.Q(("seed", ""), _negated=True),
                                    ("near_change_mm__gt", 0),
                                    ("near_margin_pct__gt", 0),
                                    ("near_ratio_pct__gt", 0),
                                    ("mdc_mm__gt", 0),
                                    ("third_mm__gt", 0),
                                    ("third_pct__gt", 0),
                                ),
                                name="followup_readingpolicy_possible",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="RememberedColumns",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("header_key", models.CharField(max_length=64)),
                        ("mapping", models.JSONField()),
                        ("kept_at", models.DateTimeField()),
                        (
                            "kept_by",
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
                        "verbose_name_plural": "remembered columns",
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("site", "header_key"),
                                name="followup_rememberedcolumns_once",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="RememberedWord",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("vocabulary", models.CharField(max_length=60)),
                        ("word", models.CharField(max_length=60)),
                        ("code", models.CharField(blank=True, default="", max_length=60)),
                        ("kept_at", models.DateTimeField()),
                        (
                            "kept_by",
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
                        "ordering": ["vocabulary", "word"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("site", "vocabulary", "word"),
                                name="followup_rememberedword_once",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Reply",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("key", models.CharField(max_length=120)),
                        (
                            "means",
                            models.CharField(
                                choices=[("text", "Text message"), ("email", "E-mail")],
                                max_length=5,
                            ),
                        ),
                        ("sender", models.CharField(blank=True, default="", max_length=254)),
                        ("text", models.TextField(blank=True, default="", max_length=4000)),
                        ("received_at", models.DateTimeField()),
                        ("taken_at", models.DateTimeField()),
                        (
                            "fate",
                            models.CharField(
                                choices=[
                                    ("stopped", "Ended these messages"),
                                    ("task", "A task is open"),
                                    ("waiting", "Waits for a person"),
                                    ("seen", "Seen to"),
                                ],
                                default="waiting",
                                max_length=8,
                            ),
                        ),
                        ("because", models.CharField(blank=True, default="", max_length=300)),
                        ("seen_at", models.DateTimeField(blank=True, null=True)),
                        ("seen_note", models.CharField(blank=True, default="", max_length=300)),
                        (
                            "patients",
                            models.ManyToManyField(
                                blank=True, related_name="replies", to="registry.patient"
                            ),
                        ),
                        (
                            "seen_by",
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
                                related_name="replies",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "replies",
                        "ordering": ["-received_at", "-id"],
                        "indexes": [
                            models.Index(
                                condition=models.Q(("fate", "waiting")),
                                fields=["site"],
                                name="followup_reply_waiting",
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("means__in", ["text", "email"])),
                                name="followup_reply_means_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("fate__in", ["stopped", "task", "waiting", "seen"])
                                ),
                                name="followup_reply_fate_known",
                            ),
                            models.UniqueConstraint(
                                fields=("site", "key"), name="followup_reply_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("fate", "seen"), _negated=True),
                                    models.Q(
                                        ("seen_at__isnull", False),
                                        models.Q(("seen_note", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_reply_seen_says_how",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Review",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                    ("protocol", "The protocol no longer asks for it"),
                                ],
                                default="",
                                max_length=12,
                            ),
                        ),
                        ("ended_reason", models.CharField(blank=True, default="", max_length=300)),
                        ("attended_on", models.DateField(blank=True, null=True)),
                        ("complete", models.BooleanField(default=False)),
                        ("not_obtainable", models.JSONField(blank=True, default=dict)),
                        (
                            "next_step_note",
                            models.CharField(blank=True, default="", max_length=300),
                        ),
                        ("missed_count", models.PositiveSmallIntegerField(default=0)),
                        ("asked", models.JSONField(blank=True, default=list)),
                        ("day_chosen", models.BooleanField(db_default=False, default=False)),
                        (
                            "visit_note",
                            models.TextField(
                                blank=True, db_default="", default="", max_length=4000
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
                                fields=["site", "state", "due_on"],
                                name="followup_re_site_id_fb68c8_idx",
                            ),
                            models.Index(
                                fields=["site", "state", "closes_on"],
                                name="followup_re_site_id_fdedc1_idx",
                            ),
                            models.Index(
                                condition=models.Q(
                                    ("state__in", ["planned", "booked", "missed"]),
                                    ("voided_at__isnull", True),
                                ),
                                fields=["site", "opens_on"],
                                name="followup_review_waiting",
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
                                        [
                                            "planned",
                                            "booked",
                                            "attended",
                                            "missed",
                                            "lapsed",
                                            "not_needed",
                                        ],
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
                                                "protocol",
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
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="LoadLine",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("review_version", models.PositiveIntegerField()),
                        ("from_on", models.DateField()),
                        ("to_on", models.DateField(blank=True, null=True)),
                        (
                            "outcome",
                            models.CharField(
                                choices=[
                                    ("open", "Proposed"),
                                    ("no_room", "No day with room"),
                                    ("moved", "Moved"),
                                    ("left_alone", "Left alone"),
                                ],
                                default="open",
                                max_length=10,
                            ),
                        ),
                        ("because", models.CharField(blank=True, default="", max_length=200)),
                        (
                            "proposal",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="lines",
                                to="followup.loadproposal",
                            ),
                        ),
                        (
                            "review",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="load_lines",
                                to="followup.review",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["from_on", "to_on", "id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("outcome__in", ["open", "no_room", "moved", "left_alone"])
                                ),
                                name="followup_loadline_outcome_known",
                            ),
                            models.UniqueConstraint(
                                fields=("proposal", "review"), name="followup_loadline_review_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("outcome", "no_room"), ("to_on__isnull", True)),
                                    models.Q(
                                        models.Q(("outcome", "no_room"), _negated=True),
                                        ("to_on__isnull", False),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_loadline_moves_to_a_day",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("to_on", models.F("from_on")), _negated=True),
                                name="followup_loadline_moves_elsewhere",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ContactAttempt",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                    (
                                        "means__in",
                                        ["phone", "text", "email", "letter", "other_person"],
                                    )
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
                    name="ReviewSum",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("on", models.DateField()),
                        ("counted_at", models.DateTimeField()),
                        ("planned", models.PositiveIntegerField()),
                        ("counts", models.JSONField()),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="review_sums",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-on", "site"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("site", "on"), name="followup_reviewsum_once_a_day"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SavedFilter",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("name", models.CharField(max_length=60)),
                        ("query", models.CharField(max_length=300)),
                        ("is_start", models.BooleanField(default=False)),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="saved_filters",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["name"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("person", "name"), name="followup_savedfilter_once"
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("is_start", True)),
                                fields=("person",),
                                name="followup_savedfilter_one_start",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("name", ""), _negated=True),
                                name="followup_savedfilter_has_name",
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                            models.DecimalField(
                                blank=True, decimal_places=2, max_digits=5, null=True
                            ),
                        ),
                        ("items", models.JSONField(blank=True, default=dict)),
                        (
                            "not_computable_reason",
                            models.CharField(blank=True, default="", max_length=200),
                        ),
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
                            "relative_pct",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=5, null=True
                            ),
                        ),
                        ("relative_to", models.CharField(blank=True, default="", max_length=60)),
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
                                condition=models.Q(
                                    ("hardware_in_place__in", ["yes", "no", "unknown"])
                                ),
                                name="followup_score_hardware_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("not_computable_reason", ""), ("value__isnull", False)
                                    ),
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
                                fields=("injury", "instrument", "taken_on", "mode"),
                                name="followup_score_once_a_day_and_mode",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("relative_pct__isnull", True), ("relative_to", "")),
                                    models.Q(
                                        ("relative_pct__isnull", False),
                                        models.Q(("relative_to", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_score_relative_names_table",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="Task",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                    ("alarming_answer", "An alarming answer"),
                                    ("physiotherapy", "Physiotherapy to arrange"),
                                    ("message", "A message that did not go"),
                                    ("contact", "A patient to reach"),
                                    ("safety_notice", "A safety notice"),
                                    ("other", "Other"),
                                ],
                                max_length=16,
                            ),
                        ),
                        ("words", models.CharField(max_length=300)),
                        ("key", models.CharField(max_length=120)),
                        ("due_on", models.DateField()),
                        ("done_at", models.DateTimeField(blank=True, null=True)),
                        ("done_note", models.CharField(blank=True, default="", max_length=300)),
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
                                related_name="tasks",
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
                            "review",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="tasks",
                                to="followup.review",
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
                        "ordering": ["due_on", "id"],
                        "abstract": False,
                        "base_manager_name": "everything",
                        "indexes": [
                            models.Index(
                                condition=models.Q(("done_at__isnull", True)),
                                fields=["site", "due_on"],
                                name="followup_task_open",
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
                                name="followup_task_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_task_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_task_changed_after_recorded",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("done_at__isnull", True), ("voided_at__isnull", True)
                                ),
                                fields=("key",),
                                name="followup_task_open_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("done_at__isnull", True), ("done_note", "")),
                                    models.Q(
                                        ("done_at__isnull", False),
                                        models.Q(("done_note", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_task_done_says_how",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "kind__in",
                                        [
                                            "alarming_answer",
                                            "physiotherapy",
                                            "message",
                                            "contact",
                                            "safety_notice",
                                            "other",
                                        ],
                                    )
                                ),
                                name="followup_task_kind_known",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="UnionRule",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("min_bridged_cortices", models.PositiveSmallIntegerField(default=3)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "site",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="union_rule",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("min_bridged_cortices__gte", 1),
                                    ("min_bridged_cortices__lte", 4),
                                ),
                                name="followup_unionrule_possible",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Unreachable",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                        ("since", models.DateField()),
                        ("reason", models.CharField(max_length=300)),
                        ("ended_on", models.DateField(blank=True, null=True)),
                        ("ended_because", models.CharField(blank=True, default="", max_length=200)),
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
                                related_name="unreachable",
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
                    ],
                    options={
                        "verbose_name_plural": "unreachable",
                        "ordering": ["-since", "-id"],
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
                                name="followup_unreachable_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_unreachable_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_unreachable_changed_after_recorded",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("ended_on__isnull", True), ("voided_at__isnull", True)
                                ),
                                fields=("patient", "site"),
                                name="followup_unreachable_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("ended_because", ""), ("ended_on__isnull", True)),
                                    models.Q(
                                        ("ended_on__gte", models.F("since")),
                                        models.Q(("ended_because", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_unreachable_ends_with_cause",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="UrgentAdvice",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        (
                            "language",
                            models.CharField(
                                choices=[("en", "English"), ("de", "Deutsch")], max_length=10
                            ),
                        ),
                        ("number", models.PositiveSmallIntegerField()),
                        ("text", models.TextField(max_length=1000)),
                        ("made_at", models.DateTimeField()),
                        (
                            "made_by",
                            models.ForeignKey(
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
                                related_name="urgent_advice",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["site", "language", "-number"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("site", "language", "number"),
                                name="followup_urgentadvice_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("text", ""), _negated=True),
                                name="followup_urgentadvice_has_text",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="VersionMove",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                        ("reason", models.CharField(max_length=300)),
                        (
                            "changed_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "from_version",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="followup.protocolversion",
                            ),
                        ),
                        (
                            "procedure",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="version_moves",
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
                            "to_version",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="moves",
                                to="followup.protocolversion",
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
                                name="followup_versionmove_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_versionmove_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_versionmove_changed_after_recorded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("from_version", models.F("to_version")), _negated=True
                                ),
                                name="followup_versionmove_to_another",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("reason", ""), _negated=True),
                                name="followup_versionmove_reason",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="VisitDraft",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("typed", models.JSONField(default=dict)),
                        ("review_version", models.PositiveIntegerField()),
                        ("saved_at", models.DateTimeField(db_index=True)),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="visit_drafts",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "review",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="drafts",
                                to="followup.review",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("person", "review"), name="followup_visitdraft_one_each"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="VisitPresence",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("since", models.DateTimeField()),
                        ("seen_at", models.DateTimeField(db_index=True)),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "review",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="presences",
                                to="followup.review",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("person", "review"), name="followup_visitpresence_one_each"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="WantedReading",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                        ("turn", models.PositiveSmallIntegerField()),
                        (
                            "because",
                            models.CharField(
                                choices=[
                                    ("all", "every film is read twice"),
                                    ("share", "drawn at random"),
                                    ("near", "near a threshold"),
                                    ("disagreement", "two readings lie too far apart"),
                                ],
                                max_length=12,
                            ),
                        ),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("wanted", "Wanted"),
                                    ("done", "Done"),
                                    ("withdrawn", "Withdrawn"),
                                ],
                                default="wanted",
                                max_length=9,
                            ),
                        ),
                        (
                            "withdrawn_because",
                            models.CharField(blank=True, default="", max_length=100),
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
                            "film",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="wanted_readings",
                                to="followup.film",
                            ),
                        ),
                        (
                            "reader",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="wanted_readings",
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
                        "ordering": ["id"],
                        "abstract": False,
                        "base_manager_name": "everything",
                        "indexes": [
                            models.Index(
                                condition=models.Q(
                                    ("state", "wanted"), ("voided_at__isnull", True)
                                ),
                                fields=["site", "turn", "id"],
                                name="followup_wanted_open",
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
                                name="followup_wantedreading_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_wantedreading_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_wantedreading_changed_after_recorded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("state__in", ["wanted", "done", "withdrawn"])),
                                name="followup_wantedreading_state_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("because__in", ["all", "share", "near", "disagreement"])
                                ),
                                name="followup_wantedreading_because_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("voided_at__isnull", True)),
                                fields=("film", "turn"),
                                name="followup_wantedreading_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("turn__gte", 2), ("turn__lte", 3)),
                                name="followup_wantedreading_turn_2_or_3",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state", "done"), _negated=True),
                                    ("reader__isnull", False),
                                    _connector="OR",
                                ),
                                name="followup_wantedreading_done_by_somebody",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("reader__isnull", True),
                                        ("state", "withdrawn"),
                                        models.Q(("withdrawn_because", ""), _negated=True),
                                    ),
                                    models.Q(
                                        models.Q(("state", "withdrawn"), _negated=True),
                                        ("withdrawn_because", ""),
                                    ),
                                    _connector="OR",
                                ),
                                name="followup_wantedreading_withdrawn_with_cause",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="Wording",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("instrument", models.CharField(max_length=16)),
                        (
                            "language",
                            models.CharField(
                                choices=[("en", "English"), ("de", "Deutsch")], max_length=10
                            ),
                        ),
                        ("number", models.PositiveSmallIntegerField()),
                        ("edition", models.CharField(max_length=60)),
                        ("licence_note", models.CharField(max_length=300)),
                        ("items", models.JSONField()),
                        ("in_use", models.BooleanField(default=False)),
                        ("made_at", models.DateTimeField()),
                        (
                            "made_by",
                            models.ForeignKey(
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
                                related_name="wordings",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["site", "instrument", "language", "-number"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("site", "instrument", "language", "number"),
                                name="followup_wording_once",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("in_use", True)),
                                fields=("site", "instrument", "language"),
                                name="followup_wording_one_in_use",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("licence_note", ""), _negated=True),
                                    models.Q(("edition", ""), _negated=True),
                                ),
                                name="followup_wording_says_licence",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Answer",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                        ("question", models.CharField(max_length=24)),
                        ("value", models.CharField(blank=True, default="", max_length=20)),
                        (
                            "language",
                            models.CharField(
                                choices=[("en", "English"), ("de", "Deutsch")], max_length=10
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
                            "invitation",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="answers",
                                to="followup.invitation",
                            ),
                        ),
                        (
                            "wording",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="followup.wording",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["invitation", "id"],
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
                                name="followup_answer_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="followup_answer_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="followup_answer_changed_after_recorded",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("voided_at__isnull", True)),
                                fields=("invitation", "question"),
                                name="followup_answer_once",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
            ],
        ),
    ]
