"""All tables as the migrations up to 0018 left them, for a database that has none of them yet."""

import django.contrib.auth.models
import django.contrib.auth.validators
import django.db.models.deletion
import django.db.models.expressions
import django.db.models.functions.text
import django.db.models.manager
import django.utils.timezone
import registry.models.folding
import registry.models.patients
from django.conf import settings
from django.db import migrations, models

from registry.migrations._many_tables import CreateModels


class Migration(migrations.Migration):
    replaces = [
        ("registry", "0001_initial"),
        ("registry", "0002_merges_and_digests"),
        ("registry", "0003_job_runs"),
        ("registry", "0004_alternative_contacts"),
        ("registry", "0005_site_telephone"),
        ("registry", "0006_header_identities"),
        ("registry", "0007_safety_notices"),
        ("registry", "0008_hospital_messages"),
        ("registry", "0009_foreign_numbers"),
        ("registry", "0010_labelled_parts"),
        ("registry", "0011_imports_in_parts"),
        ("registry", "0012_fill_fates"),
        ("registry", "0013_fates_are_known"),
        ("registry", "0014_record_moves"),
        ("registry", "0015_sign_ins"),
        ("registry", "0016_moves_of_operations"),
        ("registry", "0017_who_tells_bookings"),
        ("registry", "0018_emergency_accesses"),
    ]

    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        CreateModels(
            models=[
                migrations.CreateModel(
                    name="Person",
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
                                error_messages={
                                    "unique": "A user with that username already exists."
                                },
                                help_text="Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.",
                                max_length=150,
                                unique=True,
                                validators=[
                                    django.contrib.auth.validators.UnicodeUsernameValidator()
                                ],
                                verbose_name="username",
                            ),
                        ),
                        (
                            "email",
                            models.EmailField(
                                blank=True, max_length=254, verbose_name="email address"
                            ),
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
                            "must_change_password",
                            models.BooleanField(db_default=False, default=False),
                        ),
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                        (
                            "after_digest",
                            models.CharField(blank=True, db_default="", default="", max_length=64),
                        ),
                        (
                            "before_digest",
                            models.CharField(blank=True, db_default="", default="", max_length=64),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "audit entries",
                        "indexes": [
                            models.Index(
                                fields=["table", "row_id"], name="registry_au_table_dcf759_idx"
                            ),
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("code", models.CharField(max_length=12, unique=True)),
                        ("name", models.CharField(max_length=80, unique=True)),
                        (
                            "family",
                            models.CharField(
                                choices=[
                                    ("locking_plate", "Locking plate alone"),
                                    (
                                        "locking_plate_anchors",
                                        "Locking plate with coracoid anchors",
                                    ),
                                    ("hook_plate", "Hook plate"),
                                    ("suspensory", "Suspensory fixation without a plate"),
                                    ("tendon_graft", "Tendon graft"),
                                    ("other", "Other"),
                                ],
                                max_length=24,
                            ),
                        ),
                        ("planned_removal", models.BooleanField(default=False)),
                        (
                            "removal_opens_weeks",
                            models.PositiveSmallIntegerField(blank=True, null=True),
                        ),
                        (
                            "removal_due_weeks",
                            models.PositiveSmallIntegerField(blank=True, null=True),
                        ),
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
                        (
                            "device_identifier",
                            models.CharField(blank=True, default="", max_length=40),
                        ),
                        (
                            "catalogue_number",
                            models.CharField(blank=True, default="", max_length=40),
                        ),
                        ("is_active", models.BooleanField(default=True)),
                        (
                            "catalogue_key",
                            models.GeneratedField(
                                db_persist=True,
                                expression=registry.models.folding.TrimmedStart(
                                    registry.models.folding.PlainUpper(
                                        registry.models.folding.Without(
                                            models.F("catalogue_number"),
                                            32,
                                            9,
                                            160,
                                            45,
                                            8208,
                                            8209,
                                            8211,
                                            output_field=registry.models.folding.CodeText(),
                                        )
                                    ),
                                    models.Value("0"),
                                    output_field=registry.models.folding.CodeText(),
                                ),
                                output_field=registry.models.folding.CodeText(max_length=40),
                            ),
                        ),
                        (
                            "device_key",
                            models.GeneratedField(
                                db_persist=True,
                                expression=registry.models.folding.TrimmedStart(
                                    registry.models.folding.PlainUpper(
                                        registry.models.folding.Without(
                                            models.F("device_identifier"),
                                            32,
                                            9,
                                            160,
                                            45,
                                            8208,
                                            8209,
                                            8211,
                                            output_field=registry.models.folding.CodeText(),
                                        )
                                    ),
                                    models.Value("0"),
                                    output_field=registry.models.folding.CodeText(),
                                ),
                                output_field=registry.models.folding.CodeText(max_length=40),
                            ),
                        ),
                        ("is_draft", models.BooleanField(db_default=False, default=False)),
                        ("plate_holes", models.PositiveSmallIntegerField(blank=True, null=True)),
                        (
                            "screw_diameter_mm",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=3, null=True
                            ),
                        ),
                        ("version", models.PositiveIntegerField(db_default=1, default=1)),
                        (
                            "same_as",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="others",
                                to="registry.implantmodel",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["kind", "description"],
                        "indexes": [
                            models.Index(fields=["device_key"], name="registry_model_device"),
                            models.Index(fields=["catalogue_key"], name="registry_model_catalogue"),
                        ],
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
                                fields=(
                                    "kind",
                                    "description",
                                    "device_identifier",
                                    "catalogue_number",
                                ),
                                name="registry_implantmodel_once",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("is_draft", True),
                                    models.Q(("device_identifier", ""), _negated=True),
                                ),
                                fields=("device_identifier",),
                                name="registry_implantmodel_one_draft",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("plate_holes__isnull", True),
                                    ("plate_holes__lte", 30),
                                    _connector="OR",
                                ),
                                name="registry_implantmodel_holes_possible",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("same_as__isnull", True),
                                    models.Q(("same_as", models.F("pk")), _negated=True),
                                    _connector="OR",
                                ),
                                name="registry_implantmodel_not_its_own",
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
                            ),
                        ),
                        ("file_name", models.CharField(max_length=200)),
                        ("content_hash", models.CharField(db_index=True, max_length=64)),
                        ("started_at", models.DateTimeField()),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("running", "Being imported"),
                                    ("done", "Imported whole"),
                                    ("partial", "Good rows imported"),
                                    ("refused", "Refused"),
                                    ("undone", "Taken back"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("rows_read", models.PositiveIntegerField()),
                        ("rows_landed", models.PositiveIntegerField()),
                        ("rows_known", models.PositiveIntegerField()),
                        ("rows_refused", models.PositiveIntegerField()),
                        ("ended_at", models.DateTimeField(blank=True, null=True)),
                        ("how", models.JSONField(blank=True, default=dict)),
                        ("rows_waiting", models.PositiveIntegerField(db_default=0, default=0)),
                        ("undone_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "undone_because",
                            models.CharField(blank=True, db_default="", default="", max_length=300),
                        ),
                        (
                            "started_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "undone_by",
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
                        "verbose_name_plural": "import batches",
                        "ordering": ["-started_at"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        ["running", "done", "partial", "refused", "undone"],
                                    )
                                ),
                                name="registry_importbatch_state_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "rows_read",
                                        django.db.models.expressions.CombinedExpression(
                                            django.db.models.expressions.CombinedExpression(
                                                django.db.models.expressions.CombinedExpression(
                                                    models.F("rows_landed"),
                                                    "+",
                                                    models.F("rows_known"),
                                                ),
                                                "+",
                                                models.F("rows_refused"),
                                            ),
                                            "+",
                                            models.F("rows_waiting"),
                                        ),
                                    ),
                                    ("state__in", ["refused", "running"]),
                                    _connector="OR",
                                ),
                                name="registry_importbatch_rows_add_up",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("state", "undone"),
                                        ("undone_at__isnull", False),
                                        models.Q(("undone_because", ""), _negated=True),
                                    ),
                                    models.Q(
                                        models.Q(("state", "undone"), _negated=True),
                                        ("undone_at__isnull", True),
                                        ("undone_because", ""),
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_importbatch_undone_has_reason",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="JobRun",
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
                        ("job", models.CharField(max_length=60)),
                        ("holder", models.CharField(max_length=40)),
                        ("for_day", models.DateField()),
                        ("started_at", models.DateTimeField()),
                        ("beat_at", models.DateTimeField()),
                        ("finished_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "outcome",
                            models.CharField(
                                choices=[
                                    ("running", "Running"),
                                    ("good", "Done"),
                                    ("failed", "Failed"),
                                    ("died", "Died"),
                                    ("busy", "Left to the run that is under way"),
                                ],
                                default="running",
                                max_length=10,
                            ),
                        ),
                        ("steps", models.PositiveIntegerField(default=0)),
                        ("counts", models.JSONField(blank=True, default=dict)),
                        ("fault", models.CharField(blank=True, default="", max_length=400)),
                    ],
                    options={
                        "ordering": ["-started_at", "-id"],
                        "indexes": [
                            models.Index(
                                fields=["job", "-started_at"], name="registry_jobrun_newest"
                            ),
                            models.Index(
                                condition=models.Q(("outcome", "running")),
                                fields=["job"],
                                name="registry_jobrun_running",
                            ),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("outcome__in", ["running", "good", "failed", "died", "busy"])
                                ),
                                name="registry_jobrun_outcome_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("finished_at__isnull", True), ("outcome", "running")),
                                    models.Q(
                                        models.Q(("outcome", "running"), _negated=True),
                                        ("finished_at__isnull", False),
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_jobrun_ended_has_outcome",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="JobLock",
                    fields=[
                        ("job", models.CharField(max_length=60, primary_key=True, serialize=False)),
                        ("holder", models.CharField(blank=True, default="", max_length=40)),
                        ("until", models.DateTimeField(blank=True, null=True)),
                        (
                            "last_fault",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.SET_NULL,
                                related_name="+",
                                to="registry.jobrun",
                            ),
                        ),
                        (
                            "last_good",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.SET_NULL,
                                related_name="+",
                                to="registry.jobrun",
                            ),
                        ),
                        (
                            "last_run",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.SET_NULL,
                                related_name="+",
                                to="registry.jobrun",
                            ),
                        ),
                    ],
                ),
                migrations.CreateModel(
                    name="NoticeCarrier",
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
                            "sureness",
                            models.CharField(
                                choices=[
                                    ("certain", "Certain"),
                                    ("near", "Near: to be decided"),
                                    ("not_excluded", "Cannot be excluded"),
                                ],
                                max_length=12,
                            ),
                        ),
                        ("because", models.CharField(max_length=300)),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("undecided", "To be decided"),
                                    ("not_one", "Does not carry it"),
                                    ("to_reach", "To be reached"),
                                    ("reached", "Reached"),
                                    ("reviewed", "Reviewed"),
                                    ("removed", "Removed"),
                                    ("unreachable", "Could not be reached"),
                                    ("died", "Died"),
                                    ("declined", "Declined"),
                                ],
                                max_length=12,
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
                            "procedure",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="carried",
                                to="registry.procedure",
                            ),
                        ),
                        (
                            "notice",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="carriers",
                                to="registry.safetynotice",
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
                        "indexes": [
                            models.Index(
                                fields=["notice", "site", "state"], name="registry_carrier_state"
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
                                name="registry_noticecarrier_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="registry_noticecarrier_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="registry_noticecarrier_changed_after_recorded",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("sureness__in", ["certain", "near", "not_excluded"])
                                ),
                                name="registry_carrier_sureness_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        [
                                            "undecided",
                                            "not_one",
                                            "to_reach",
                                            "reached",
                                            "reviewed",
                                            "removed",
                                            "unreachable",
                                            "died",
                                            "declined",
                                        ],
                                    )
                                ),
                                name="registry_carrier_state_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("voided_at__isnull", True)),
                                fields=("notice", "procedure"),
                                name="registry_carrier_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("sureness", "certain"), _negated=True),
                                    models.Q(
                                        ("state__in", ["undecided", "not_one"]), _negated=True
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_carrier_certain_is_decided",
                            ),
                        ],
                    },
                    managers=[
                        ("objects", django.db.models.manager.Manager()),
                        ("everything", django.db.models.manager.Manager()),
                    ],
                ),
                migrations.CreateModel(
                    name="CarrierStep",
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
                                    ("found", "Found"),
                                    ("more_sure", "Found more surely"),
                                    ("is_one", "Carries it"),
                                    ("is_none", "Does not carry it"),
                                    ("decide_again", "To be decided again"),
                                    ("reached", "Reached"),
                                    ("reviewed", "Reviewed"),
                                    ("removed", "Removed"),
                                    ("unreachable", "Could not be reached"),
                                    ("died", "Died"),
                                    ("declined", "Declined"),
                                    ("opened_again", "Opened again"),
                                ],
                                max_length=12,
                            ),
                        ),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("undecided", "To be decided"),
                                    ("not_one", "Does not carry it"),
                                    ("to_reach", "To be reached"),
                                    ("reached", "Reached"),
                                    ("reviewed", "Reviewed"),
                                    ("removed", "Removed"),
                                    ("unreachable", "Could not be reached"),
                                    ("died", "Died"),
                                    ("declined", "Declined"),
                                ],
                                max_length=12,
                            ),
                        ),
                        ("on", models.DateField()),
                        ("note", models.CharField(blank=True, default="", max_length=300)),
                        ("at", models.DateTimeField()),
                        (
                            "by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "carrier",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="steps",
                                to="registry.noticecarrier",
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
                                            "found",
                                            "more_sure",
                                            "is_one",
                                            "is_none",
                                            "decide_again",
                                            "reached",
                                            "reviewed",
                                            "removed",
                                            "unreachable",
                                            "died",
                                            "declined",
                                            "opened_again",
                                        ],
                                    )
                                ),
                                name="registry_carrierstep_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        [
                                            "undecided",
                                            "not_one",
                                            "to_reach",
                                            "reached",
                                            "reviewed",
                                            "removed",
                                            "unreachable",
                                            "died",
                                            "declined",
                                        ],
                                    )
                                ),
                                name="registry_carrierstep_state_known",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Patient",
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
                                    ("lateral_clavicle", "Fracture of the lateral clavicle"),
                                    ("ac_joint", "Acromioclavicular joint injury"),
                                ],
                                default="lateral_clavicle",
                                max_length=20,
                            ),
                        ),
                        (
                            "side",
                            models.CharField(
                                choices=[("left", "Left"), ("right", "Right")], max_length=8
                            ),
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
                                choices=[
                                    ("closed", "Closed"),
                                    ("open", "Open"),
                                    ("unknown", "Unknown"),
                                ],
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
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=4, null=True
                            ),
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
                                        [
                                            "uninjured",
                                            "injured_before",
                                            "operated_before",
                                            "unknown",
                                        ],
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
                                    (
                                        "sport_demand__in",
                                        ["none", "recreational", "contact", "unknown"],
                                    )
                                ),
                                name="registry_injury_sport_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("injured_latest__gte", models.F("injured_earliest"))
                                ),
                                name="registry_injury_date_bounds",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("age_years__isnull", True),
                                    ("age_years__lte", 120),
                                    _connector="OR",
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
                    name="Identity",
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
                        ("family_name", models.CharField(max_length=80)),
                        ("given_name", models.CharField(max_length=80)),
                        (
                            "sort_name",
                            models.CharField(db_index=True, editable=False, max_length=170),
                        ),
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
                        (
                            "other_contact_name",
                            models.CharField(blank=True, default="", max_length=120),
                        ),
                        (
                            "other_contact_phone",
                            models.CharField(blank=True, default="", max_length=30),
                        ),
                        ("contact_checked_on", models.DateField(blank=True, null=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "contacts_changed_at",
                            models.DateTimeField(blank=True, editable=False, null=True),
                        ),
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
                        "indexes": [
                            models.Index(
                                fields=["birth_earliest", "birth_latest"],
                                name="registry_id_birth_e_a09bc1_idx",
                            ),
                            models.Index(fields=["phone"], name="registry_id_phone_0dbfca_idx"),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("birth_latest__gte", models.F("birth_earliest"))
                                ),
                                name="registry_identity_birth_bounds",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("family_name", ""), _negated=True),
                                name="registry_identity_has_family_name",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("sex__in", ["female", "male", "other", "unknown"])
                                ),
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
                    name="Identifier",
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
                                fields=("site", "issuing_system", "value"),
                                name="registry_identifier_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("value", ""), _negated=True),
                                name="registry_identifier_not_empty",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="AlternativeContact",
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
                        ("name", models.CharField(max_length=120)),
                        ("relation", models.CharField(blank=True, default="", max_length=60)),
                        ("phone", models.CharField(max_length=30)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "patient",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="alternative_contacts",
                                to="registry.patient",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("name", ""), _negated=True),
                                    models.Q(("phone", ""), _negated=True),
                                ),
                                name="registry_alternativecontact_not_empty",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="PatientMerge",
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
                        ("merged_at", models.DateTimeField()),
                        ("reason", models.CharField(max_length=300)),
                        ("moved", models.JSONField(default=dict)),
                        ("undone_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "kept",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="merges_kept",
                                to="registry.patient",
                            ),
                        ),
                        (
                            "merged",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="merges_away",
                                to="registry.patient",
                            ),
                        ),
                        (
                            "merged_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "undone_by",
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
                        "ordering": ["-merged_at", "-id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("kept", models.F("merged")), _negated=True),
                                name="registry_patientmerge_of_two",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("reason", ""), _negated=True),
                                name="registry_patientmerge_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("undone_at__isnull", True), ("undone_by__isnull", True)
                                    ),
                                    models.Q(
                                        ("undone_at__isnull", False), ("undone_by__isnull", False)
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_patientmerge_undone_by_somebody",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("undone_at__isnull", True)),
                                fields=("merged",),
                                name="registry_patientmerge_merged_once",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Procedure",
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
                                    (
                                        "transverse",
                                        "Transverse, below the lateral clavicle and joint",
                                    ),
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
                        (
                            "duration_minutes",
                            models.PositiveSmallIntegerField(blank=True, null=True),
                        ),
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
                                        [
                                            "transverse",
                                            "skin_lines",
                                            "arthroscopic",
                                            "other",
                                            "unknown",
                                        ],
                                    )
                                ),
                                name="registry_procedure_approach_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("provisional_fixation__in", ["yes", "no", "unknown"])
                                ),
                                name="registry_procedure_provisional_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "reduction_quality__in",
                                        ["anatomical", "near", "poor", "unknown"],
                                    )
                                ),
                                name="registry_procedure_reduction_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("intraoperative_film__in", ["yes", "no", "unknown"])
                                ),
                                name="registry_procedure_film_known",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("kind", "fixation"), ("voided_at__isnull", True)
                                ),
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
                                    ("planned_removal", False),
                                    ("kind", "implant_removal"),
                                    _connector="OR",
                                ),
                                name="registry_procedure_planned_is_removal",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("duration_minutes__isnull", True),
                                    models.Q(
                                        ("duration_minutes__gte", 5), ("duration_minutes__lte", 900)
                                    ),
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
                    name="ImportRow",
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
                        ("fingerprint", models.CharField(max_length=64)),
                        ("reason", models.TextField(blank=True, default="")),
                        (
                            "ended_as",
                            models.CharField(blank=True, db_default="", default="", max_length=10),
                        ),
                        ("ended_on", models.DateField(blank=True, null=True)),
                        ("enrolled", models.BooleanField(db_default=False, default=False)),
                        (
                            "fate",
                            models.CharField(
                                choices=[
                                    ("landed", "Added"),
                                    ("known", "Known already"),
                                    ("refused", "Refused"),
                                    ("waiting", "Waiting for a decision"),
                                ],
                                max_length=10,
                            ),
                        ),
                        (
                            "batch",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="rows",
                                to="registry.importbatch",
                            ),
                        ),
                        (
                            "number",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.SET_NULL,
                                related_name="+",
                                to="registry.identifier",
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
                            models.Index(
                                fields=["fingerprint"], name="registry_im_fingerp_777e10_idx"
                            )
                        ],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("batch", "line"), name="registry_importrow_line_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("fate__in", ["landed", "known", "refused", "waiting"])
                                ),
                                name="registry_importrow_fate_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("fate", "landed"), ("procedure__isnull", False)),
                                    models.Q(
                                        models.Q(("fate", "landed"), _negated=True),
                                        ("procedure__isnull", True),
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_importrow_landed_has_procedure",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Construct",
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
                        ("plate_holes", models.PositiveSmallIntegerField(blank=True, null=True)),
                        (
                            "lateral_screw_count",
                            models.PositiveSmallIntegerField(blank=True, null=True),
                        ),
                        (
                            "lateral_screw_diameter_mm",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=3, null=True
                            ),
                        ),
                        (
                            "lateral_drill_mm",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=3, null=True
                            ),
                        ),
                        (
                            "lateral_screws_locking",
                            models.CharField(
                                choices=[("yes", "Yes"), ("no", "No"), ("unknown", "Unknown")],
                                default="unknown",
                                max_length=10,
                            ),
                        ),
                        (
                            "shaft_screw_count",
                            models.PositiveSmallIntegerField(blank=True, null=True),
                        ),
                        (
                            "shaft_screw_diameter_mm",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=3, null=True
                            ),
                        ),
                        (
                            "shaft_drill_mm",
                            models.DecimalField(
                                blank=True, decimal_places=1, max_digits=3, null=True
                            ),
                        ),
                        ("shaft_cortices", models.PositiveSmallIntegerField(blank=True, null=True)),
                        ("anchor_count", models.PositiveSmallIntegerField(blank=True, null=True)),
                        ("button_count", models.PositiveSmallIntegerField(blank=True, null=True)),
                        (
                            "free_slots_count",
                            models.PositiveSmallIntegerField(blank=True, null=True),
                        ),
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
                        (
                            "half_hitch_count",
                            models.PositiveSmallIntegerField(blank=True, null=True),
                        ),
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
                                        [
                                            "surgeons_knot",
                                            "other",
                                            "knotless",
                                            "not_applicable",
                                            "unknown",
                                        ],
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
                    name="RecordMove",
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
                                    ("patient", "To another patient"),
                                    ("side", "To the other side"),
                                    ("operation", "Operation to another injury"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("moved_at", models.DateTimeField()),
                        ("reason", models.CharField(max_length=300)),
                        ("moved", models.JSONField(default=dict)),
                        ("undone_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "from_patient",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="moves_away",
                                to="registry.patient",
                            ),
                        ),
                        (
                            "injury",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="moves",
                                to="registry.injury",
                            ),
                        ),
                        (
                            "moved_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "procedure",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="moves",
                                to="registry.procedure",
                            ),
                        ),
                        (
                            "to_injury",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="moves_of_operations",
                                to="registry.injury",
                            ),
                        ),
                        (
                            "to_patient",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="moves_here",
                                to="registry.patient",
                            ),
                        ),
                        (
                            "undone_by",
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
                        "ordering": ["-moved_at", "-id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("reason", ""), _negated=True),
                                name="registry_recordmove_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("undone_at__isnull", True), ("undone_by__isnull", True)
                                    ),
                                    models.Q(
                                        ("undone_at__isnull", False), ("undone_by__isnull", False)
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_recordmove_undone_by_somebody",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["patient", "side", "operation"])),
                                name="registry_recordmove_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("kind", "patient"),
                                        ("to_injury", None),
                                        models.Q(
                                            ("from_patient", models.F("to_patient")), _negated=True
                                        ),
                                    ),
                                    models.Q(
                                        ("from_patient", models.F("to_patient")),
                                        ("kind", "side"),
                                        ("to_injury", None),
                                    ),
                                    models.Q(
                                        ("kind", "operation"),
                                        ("to_injury__isnull", False),
                                        models.Q(("injury", models.F("to_injury")), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_recordmove_says_where",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("kind", "operation"), ("procedure__isnull", False)),
                                    models.Q(
                                        models.Q(("kind", "operation"), _negated=True),
                                        ("procedure__isnull", True),
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_recordmove_names_operation",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SafetyNotice",
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
                        ("reference", models.CharField(max_length=60, unique=True)),
                        ("title", models.CharField(max_length=160)),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("recall", "Recall"),
                                    ("correction", "Correction"),
                                    ("information", "Information"),
                                ],
                                max_length=12,
                            ),
                        ),
                        ("advice", models.TextField(max_length=4000)),
                        ("issued_on", models.DateField()),
                        ("received_on", models.DateField()),
                        ("due_on", models.DateField()),
                        ("must_be_seen", models.BooleanField(default=True)),
                        ("withdrawn_on", models.DateField(blank=True, null=True)),
                        ("recorded_at", models.DateTimeField()),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "owner",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="safety_notices",
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
                    ],
                    options={
                        "ordering": ["-received_on", "-id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("kind__in", ["recall", "correction", "information"])
                                ),
                                name="registry_safetynotice_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("due_on__gte", models.F("received_on")),
                                    ("received_on__gte", models.F("issued_on")),
                                ),
                                name="registry_safetynotice_days_in_order",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="NoticeScope",
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
                            "device_identifier",
                            models.CharField(blank=True, default="", max_length=40),
                        ),
                        (
                            "catalogue_number",
                            models.CharField(blank=True, default="", max_length=40),
                        ),
                        ("batch_first", models.CharField(blank=True, default="", max_length=40)),
                        ("batch_last", models.CharField(blank=True, default="", max_length=40)),
                        ("serial_first", models.CharField(blank=True, default="", max_length=40)),
                        ("serial_last", models.CharField(blank=True, default="", max_length=40)),
                        ("expires_from", models.DateField(blank=True, null=True)),
                        ("expires_to", models.DateField(blank=True, null=True)),
                        (
                            "notice",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="scopes",
                                to="registry.safetynotice",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("device_identifier", ""), _negated=True),
                                    models.Q(("catalogue_number", ""), _negated=True),
                                    models.Q(("batch_first", ""), _negated=True),
                                    models.Q(("serial_first", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="registry_noticescope_names_something",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("expires_from__isnull", True), ("expires_to__isnull", True)
                                    ),
                                    ("expires_to__gte", models.F("expires_from")),
                                    _connector="OR",
                                ),
                                name="registry_noticescope_expiry_in_order",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SignInEvent",
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
                        ("at", models.DateTimeField()),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("in", "Signed in"),
                                    ("out", "Signed out"),
                                    ("failed", "Failed to sign in"),
                                    ("held", "Made to wait after too many tries"),
                                    ("refused", "Refused: may not sign in"),
                                    ("code", "Gave a wrong code"),
                                    ("step_up", "Confirmed who they are"),
                                    ("password", "Chose a new password"),
                                    ("added", "Added a second factor"),
                                    ("removed", "Removed a second factor"),
                                    ("codes", "Made new recovery codes"),
                                    ("tied", "Tied to the hospital's sign-in"),
                                    ("untied", "Parted from the hospital's sign-in"),
                                    ("ended", "Ended a session"),
                                    ("idle", "Session ended by idleness"),
                                    ("token", "Made a token"),
                                    ("revoked", "Revoked a token"),
                                ],
                                max_length=8,
                            ),
                        ),
                        ("address", models.CharField(blank=True, default="", max_length=45)),
                        ("browser", models.CharField(blank=True, default="", max_length=60)),
                        ("detail", models.CharField(blank=True, default="", max_length=200)),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "person",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(fields=["-at", "-id"], name="registry_si_at_33b1f8_idx"),
                            models.Index(
                                fields=["person", "-at"], name="registry_si_person__625a46_idx"
                            ),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "kind__in",
                                        [
                                            "in",
                                            "out",
                                            "failed",
                                            "held",
                                            "refused",
                                            "code",
                                            "step_up",
                                            "password",
                                            "added",
                                            "removed",
                                            "codes",
                                            "tied",
                                            "untied",
                                            "ended",
                                            "idle",
                                            "token",
                                            "revoked",
                                        ],
                                    )
                                ),
                                name="registry_signinevent_kind",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SignInTry",
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
                                    ("device", "a person's own browser"),
                                    ("pair", "an account from an address"),
                                    ("account", "an account"),
                                    ("address", "an address"),
                                ],
                                max_length=8,
                            ),
                        ),
                        ("key", models.CharField(max_length=64, unique=True)),
                        ("failures", models.PositiveIntegerField(default=0)),
                        ("last_at", models.DateTimeField()),
                    ],
                    options={
                        "verbose_name_plural": "sign-in tries",
                        "indexes": [
                            models.Index(fields=["last_at"], name="registry_si_last_at_efdfdc_idx")
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("kind__in", ["device", "pair", "account", "address"])
                                ),
                                name="registry_signintry_kind",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Site",
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
                        ("code", models.SlugField(max_length=20, unique=True)),
                        ("name", models.CharField(max_length=120, unique=True)),
                        ("time_zone", models.CharField(default="Europe/London", max_length=60)),
                        ("holiday_country", models.CharField(blank=True, default="", max_length=2)),
                        (
                            "holiday_subdivision",
                            models.CharField(blank=True, default="", max_length=10),
                        ),
                        ("min_at_risk", models.PositiveSmallIntegerField(default=5)),
                        ("is_active", models.BooleanField(default=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "telephone",
                            models.CharField(blank=True, db_default="", default="", max_length=80),
                        ),
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
                    name="PatientSite",
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
                        ("quantity", models.PositiveSmallIntegerField(default=1)),
                        ("batch", models.CharField(blank=True, default="", max_length=40)),
                        ("serial", models.CharField(blank=True, default="", max_length=40)),
                        ("expires_on", models.DateField(blank=True, null=True)),
                        (
                            "raw_identifier",
                            models.CharField(blank=True, default="", max_length=900),
                        ),
                        ("batch_not_obtainable", models.BooleanField(default=False)),
                        (
                            "batch_alike",
                            models.GeneratedField(
                                db_persist=True,
                                expression=registry.models.folding.Joined(
                                    registry.models.folding.TrimmedEnd(
                                        registry.models.folding.Exchanged(
                                            registry.models.folding.PlainUpper(
                                                registry.models.folding.Without(
                                                    models.F("batch"),
                                                    32,
                                                    9,
                                                    160,
                                                    45,
                                                    8208,
                                                    8209,
                                                    8211,
                                                    output_field=registry.models.folding.CodeText(),
                                                )
                                            ),
                                            "OIL",
                                            "011",
                                            output_field=registry.models.folding.CodeText(),
                                        ),
                                        models.Value("0123456789"),
                                        output_field=registry.models.folding.CodeText(),
                                    ),
                                    models.Value(" "),
                                    django.db.models.functions.text.Right(
                                        registry.models.folding.Joined(
                                            models.Value(
                                                "0000000000000000000000000000000000000000"
                                            ),
                                            django.db.models.functions.text.Substr(
                                                registry.models.folding.Exchanged(
                                                    registry.models.folding.PlainUpper(
                                                        registry.models.folding.Without(
                                                            models.F("batch"),
                                                            32,
                                                            9,
                                                            160,
                                                            45,
                                                            8208,
                                                            8209,
                                                            8211,
                                                            output_field=registry.models.folding.CodeText(),
                                                        )
                                                    ),
                                                    "OIL",
                                                    "011",
                                                    output_field=registry.models.folding.CodeText(),
                                                ),
                                                django.db.models.expressions.CombinedExpression(
                                                    django.db.models.functions.text.Length(
                                                        registry.models.folding.TrimmedEnd(
                                                            registry.models.folding.Exchanged(
                                                                registry.models.folding.PlainUpper(
                                                                    registry.models.folding.Without(
                                                                        models.F("batch"),
                                                                        32,
                                                                        9,
                                                                        160,
                                                                        45,
                                                                        8208,
                                                                        8209,
                                                                        8211,
                                                                        output_field=registry.models.folding.CodeText(),
                                                                    )
                                                                ),
                                                                "OIL",
                                                                "011",
                                                                output_field=registry.models.folding.CodeText(),
                                                            ),
                                                            models.Value("0123456789"),
                                                            output_field=registry.models.folding.CodeText(),
                                                        )
                                                    ),
                                                    "+",
                                                    models.Value(1),
                                                ),
                                            ),
                                            output_field=registry.models.folding.CodeText(),
                                        ),
                                        40,
                                    ),
                                    output_field=registry.models.folding.CodeText(),
                                ),
                                output_field=registry.models.folding.CodeText(max_length=90),
                            ),
                        ),
                        (
                            "batch_folded",
                            models.GeneratedField(
                                db_persist=True,
                                expression=registry.models.folding.PlainUpper(
                                    registry.models.folding.Without(
                                        models.F("batch"),
                                        32,
                                        9,
                                        160,
                                        45,
                                        8208,
                                        8209,
                                        8211,
                                        output_field=registry.models.folding.CodeText(),
                                    )
                                ),
                                output_field=registry.models.folding.CodeText(max_length=40),
                            ),
                        ),
                        (
                            "batch_ordered",
                            models.GeneratedField(
                                db_persist=True,
                                expression=registry.models.folding.Joined(
                                    registry.models.folding.TrimmedEnd(
                                        registry.models.folding.PlainUpper(
                                            registry.models.folding.Without(
                                                models.F("batch"),
                                                32,
                                                9,
                                                160,
                                                45,
                                                8208,
                                                8209,
                                                8211,
                                                output_field=registry.models.folding.CodeText(),
                                            )
                                        ),
                                        models.Value("0123456789"),
                                        output_field=registry.models.folding.CodeText(),
                                    ),
                                    models.Value(" "),
                                    django.db.models.functions.text.Right(
                                        registry.models.folding.Joined(
                                            models.Value(
                                                "0000000000000000000000000000000000000000"
                                            ),
                                            django.db.models.functions.text.Substr(
                                                registry.models.folding.PlainUpper(
                                                    registry.models.folding.Without(
                                                        models.F("batch"),
                                                        32,
                                                        9,
                                                        160,
                                                        45,
                                                        8208,
                                                        8209,
                                                        8211,
                                                        output_field=registry.models.folding.CodeText(),
                                                    )
                                                ),
                                                django.db.models.expressions.CombinedExpression(
                                                    django.db.models.functions.text.Length(
                                                        registry.models.folding.TrimmedEnd(
                                                            registry.models.folding.PlainUpper(
                                                                registry.models.folding.Without(
                                                                    models.F("batch"),
                                                                    32,
                                                                    9,
                                                                    160,
                                                                    45,
                                                                    8208,
                                                                    8209,
                                                                    8211,
                                                                    output_field=registry.models.folding.CodeText(),
                                                                )
                                                            ),
                                                            models.Value("0123456789"),
                                                            output_field=registry.models.folding.CodeText(),
                                                        )
                                                    ),
                                                    "+",
                                                    models.Value(1),
                                                ),
                                            ),
                                            output_field=registry.models.folding.CodeText(),
                                        ),
                                        40,
                                    ),
                                    output_field=registry.models.folding.CodeText(),
                                ),
                                output_field=registry.models.folding.CodeText(max_length=90),
                            ),
                        ),
                        (
                            "serial_alike",
                            models.GeneratedField(
                                db_persist=True,
                                expression=registry.models.folding.Joined(
                                    registry.models.folding.TrimmedEnd(
                                        registry.models.folding.Exchanged(
                                            registry.models.folding.PlainUpper(
                                                registry.models.folding.Without(
                                                    models.F("serial"),
                                                    32,
                                                    9,
                                                    160,
                                                    45,
                                                    8208,
                                                    8209,
                                                    8211,
                                                    output_field=registry.models.folding.CodeText(),
                                                )
                                            ),
                                            "OIL",
                                            "011",
                                            output_field=registry.models.folding.CodeText(),
                                        ),
                                        models.Value("0123456789"),
                                        output_field=registry.models.folding.CodeText(),
                                    ),
                                    models.Value(" "),
                                    django.db.models.functions.text.Right(
                                        registry.models.folding.Joined(
                                            models.Value(
                                                "0000000000000000000000000000000000000000"
                                            ),
                                            django.db.models.functions.text.Substr(
                                                registry.models.folding.Exchanged(
                                                    registry.models.folding.PlainUpper(
                                                        registry.models.folding.Without(
                                                            models.F("serial"),
                                                            32,
                                                            9,
                                                            160,
                                                            45,
                                                            8208,
                                                            8209,
                                                            8211,
                                                            output_field=registry.models.folding.CodeText(),
                                                        )
                                                    ),
                                                    "OIL",
                                                    "011",
                                                    output_field=registry.models.folding.CodeText(),
                                                ),
                                                django.db.models.expressions.CombinedExpression(
                                                    django.db.models.functions.text.Length(
                                                        registry.models.folding.TrimmedEnd(
                                                            registry.models.folding.Exchanged(
                                                                registry.models.folding.PlainUpper(
                                                                    registry.models.folding.Without(
                                                                        models.F("serial"),
                                                                        32,
                                                                        9,
                                                                        160,
                                                                        45,
                                                                        8208,
                                                                        8209,
                                                                        8211,
                                                                        output_field=registry.models.folding.CodeText(),
                                                                    )
                                                                ),
                                                                "OIL",
                                                                "011",
                                                                output_field=registry.models.folding.CodeText(),
                                                            ),
                                                            models.Value("0123456789"),
                                                            output_field=registry.models.folding.CodeText(),
                                                        )
                                                    ),
                                                    "+",
                                                    models.Value(1),
                                                ),
                                            ),
                                            output_field=registry.models.folding.CodeText(),
                                        ),
                                        40,
                                    ),
                                    output_field=registry.models.folding.CodeText(),
                                ),
                                output_field=registry.models.folding.CodeText(max_length=90),
                            ),
                        ),
                        (
                            "serial_folded",
                            models.GeneratedField(
                                db_persist=True,
                                expression=registry.models.folding.PlainUpper(
                                    registry.models.folding.Without(
                                        models.F("serial"),
                                        32,
                                        9,
                                        160,
                                        45,
                                        8208,
                                        8209,
                                        8211,
                                        output_field=registry.models.folding.CodeText(),
                                    )
                                ),
                                output_field=registry.models.folding.CodeText(max_length=40),
                            ),
                        ),
                        (
                            "serial_ordered",
                            models.GeneratedField(
                                db_persist=True,
                                expression=registry.models.folding.Joined(
                                    registry.models.folding.TrimmedEnd(
                                        registry.models.folding.PlainUpper(
                                            registry.models.folding.Without(
                                                models.F("serial"),
                                                32,
                                                9,
                                                160,
                                                45,
                                                8208,
                                                8209,
                                                8211,
                                                output_field=registry.models.folding.CodeText(),
                                            )
                                        ),
                                        models.Value("0123456789"),
                                        output_field=registry.models.folding.CodeText(),
                                    ),
                                    models.Value(" "),
                                    django.db.models.functions.text.Right(
                                        registry.models.folding.Joined(
                                            models.Value(
                                                "0000000000000000000000000000000000000000"
                                            ),
                                            django.db.models.functions.text.Substr(
                                                registry.models.folding.PlainUpper(
                                                    registry.models.folding.Without(
                                                        models.F("serial"),
                                                        32,
                                                        9,
                                                        160,
                                                        45,
                                                        8208,
                                                        8209,
                                                        8211,
                                                        output_field=registry.models.folding.CodeText(),
                                                    )
                                                ),
                                                django.db.models.expressions.CombinedExpression(
                                                    django.db.models.functions.text.Length(
                                                        registry.models.folding.TrimmedEnd(
                                                            registry.models.folding.PlainUpper(
                                                                registry.models.folding.Without(
                                                                    models.F("serial"),
                                                                    32,
                                                                    9,
                                                                    160,
                                                                    45,
                                                                    8208,
                                                                    8209,
                                                                    8211,
                                                                    output_field=registry.models.folding.CodeText(),
                                                                )
                                                            ),
                                                            models.Value("0123456789"),
                                                            output_field=registry.models.folding.CodeText(),
                                                        )
                                                    ),
                                                    "+",
                                                    models.Value(1),
                                                ),
                                            ),
                                            output_field=registry.models.folding.CodeText(),
                                        ),
                                        40,
                                    ),
                                    output_field=registry.models.folding.CodeText(),
                                ),
                                output_field=registry.models.folding.CodeText(max_length=90),
                            ),
                        ),
                        (
                            "kept_because",
                            models.CharField(blank=True, db_default="", default="", max_length=300),
                        ),
                        ("made_on", models.DateField(blank=True, null=True)),
                        ("other_identifiers", models.JSONField(blank=True, default=dict)),
                        ("warnings", models.JSONField(blank=True, default=list)),
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
                        "indexes": [
                            models.Index(fields=["batch_folded"], name="registry_part_batch"),
                            models.Index(
                                fields=["batch_ordered"], name="registry_part_batch_order"
                            ),
                            models.Index(fields=["batch_alike"], name="registry_part_batch_alike"),
                            models.Index(fields=["serial_folded"], name="registry_part_serial"),
                            models.Index(
                                fields=["serial_ordered"], name="registry_part_serial_order"
                            ),
                            models.Index(
                                fields=["serial_alike"], name="registry_part_serial_alike"
                            ),
                            models.Index(
                                fields=["implant_model", "batch_folded"],
                                name="registry_part_model_batch",
                            ),
                            models.Index(fields=["expires_on"], name="registry_part_expiry"),
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
                                name="registry_part_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="registry_part_version_from_1",
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
                    name="NoticeClosing",
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
                        ("closed_on", models.DateField()),
                        ("carriers", models.PositiveIntegerField()),
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
                            "notice",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="closings",
                                to="registry.safetynotice",
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
                                name="registry_noticeclosing_void_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("version__gte", 1)),
                                name="registry_noticeclosing_version_from_1",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                                name="registry_noticeclosing_changed_after_recorded",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("voided_at__isnull", True)),
                                fields=("notice", "site"),
                                name="registry_noticeclosing_once",
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
                                auto_created=True,
                                primary_key=True,
                                serialize=False,
                                verbose_name="ID",
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
                    name="HospitalRecord",
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
                        ("said", models.JSONField(blank=True, default=dict)),
                        ("absorbed", models.JSONField(blank=True, default=dict)),
                        (
                            "patient",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="hospital_records",
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
                                fields=("site", "patient"), name="registry_hospitalrecord_once"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="HospitalMessage",
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
                        ("digest", models.CharField(max_length=64)),
                        ("event", models.CharField(blank=True, default="", max_length=10)),
                        ("control_id", models.CharField(blank=True, default="", max_length=120)),
                        ("said_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "way",
                            models.CharField(
                                choices=[("file", "In a file"), ("line", "Over the line")],
                                max_length=4,
                            ),
                        ),
                        ("received_at", models.DateTimeField()),
                        ("times", models.PositiveIntegerField(default=1)),
                        (
                            "fate",
                            models.CharField(
                                choices=[
                                    ("taken", "Taken"),
                                    ("nothing", "Changed nothing"),
                                    ("overtaken", "Overtaken by a newer one"),
                                    ("waiting", "Waits for a person"),
                                    ("refused", "Could not be used"),
                                    ("not_ours", "About nobody and nothing of ours"),
                                    ("set_aside", "Set aside by a person"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("because", models.CharField(blank=True, default="", max_length=400)),
                        (
                            "answer",
                            models.CharField(
                                choices=[
                                    ("AA", "Kept"),
                                    ("AE", "Cannot be used"),
                                    ("AR", "Of a kind that is not taken"),
                                ],
                                max_length=2,
                            ),
                        ),
                        ("about", models.CharField(blank=True, default="", max_length=400)),
                        ("text", models.TextField(blank=True, default="")),
                        ("encoding", models.CharField(blank=True, default="", max_length=12)),
                        ("text_gone_at", models.DateTimeField(blank=True, null=True)),
                        ("settled_at", models.DateTimeField(blank=True, null=True)),
                        ("settled_note", models.CharField(blank=True, default="", max_length=300)),
                        (
                            "settled_by",
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
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="hospital_messages",
                                to="registry.patient",
                            ),
                        ),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="hospital_messages",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-received_at", "-id"],
                        "indexes": [
                            models.Index(
                                fields=["site", "-received_at", "-id"],
                                name="registry_hospital_newest",
                            ),
                            models.Index(
                                fields=["site", "fate", "-received_at"],
                                name="registry_hospital_by_fate",
                            ),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "fate__in",
                                        [
                                            "taken",
                                            "nothing",
                                            "overtaken",
                                            "waiting",
                                            "refused",
                                            "not_ours",
                                            "set_aside",
                                        ],
                                    )
                                ),
                                name="registry_hospitalmessage_fate_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("answer__in", ["AA", "AE", "AR"])),
                                name="registry_hospitalmessage_answer_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("way__in", ["file", "line"])),
                                name="registry_hospitalmessage_way_known",
                            ),
                            models.UniqueConstraint(
                                fields=("site", "digest"), name="registry_hospitalmessage_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("fate", "set_aside"), _negated=True),
                                    models.Q(("settled_note", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="registry_hospitalmessage_set_aside_says_why",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("fate", "not_ours"), _negated=True),
                                    ("text", ""),
                                    _connector="OR",
                                ),
                                name="registry_hospitalmessage_not_ours_without_text",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="HospitalDoor",
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
                        ("facility", models.CharField(blank=True, default="", max_length=120)),
                        ("character_set", models.CharField(blank=True, default="", max_length=20)),
                        ("number_systems", models.JSONField(blank=True, default=dict)),
                        ("keep_days", models.PositiveSmallIntegerField(default=90)),
                        ("is_open", models.BooleanField(default=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                        ("tells_bookings", models.BooleanField(db_default=False, default=False)),
                        (
                            "site",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="hospital_door",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("keep_days__gte", 1), ("keep_days__lte", 3650)),
                                name="registry_hospitaldoor_keep_days_possible",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="HeaderIdentity",
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
                        ("number", models.CharField(blank=True, default="", max_length=60)),
                        ("family_name", models.CharField(blank=True, default="", max_length=80)),
                        ("given_name", models.CharField(blank=True, default="", max_length=80)),
                        ("birth_date", models.DateField(blank=True, null=True)),
                        ("file_name", models.CharField(blank=True, default="", max_length=120)),
                        ("kept_at", models.DateTimeField()),
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
                        "verbose_name_plural": "header identities",
                    },
                ),
                migrations.CreateModel(
                    name="ForeignNumber",
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
                        ("system", models.CharField(max_length=200)),
                        ("value", models.CharField(max_length=100)),
                        ("kept_at", models.DateTimeField()),
                        (
                            "injury",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="foreign_numbers",
                                to="registry.injury",
                            ),
                        ),
                        (
                            "part",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="foreign_numbers",
                                to="registry.part",
                            ),
                        ),
                        (
                            "procedure",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="foreign_numbers",
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
                        "ordering": ["id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("injury__isnull", False),
                                        ("part__isnull", True),
                                        ("procedure__isnull", True),
                                    ),
                                    models.Q(
                                        ("injury__isnull", True),
                                        ("part__isnull", True),
                                        ("procedure__isnull", False),
                                    ),
                                    models.Q(
                                        ("injury__isnull", True),
                                        ("part__isnull", False),
                                        ("procedure__isnull", True),
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_foreignnumber_of_one_row",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("system", ""), _negated=True),
                                    models.Q(("value", ""), _negated=True),
                                ),
                                name="registry_foreignnumber_not_empty",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("injury__isnull", False)),
                                fields=("site", "system", "value"),
                                name="registry_foreignnumber_injury_once",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("procedure__isnull", False)),
                                fields=("site", "system", "value"),
                                name="registry_foreignnumber_procedure_once",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("part__isnull", False)),
                                fields=("site", "system", "value"),
                                name="registry_foreignnumber_part_once",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="EmergencyAccess",
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
                        ("reason", models.CharField(max_length=300)),
                        ("opened_at", models.DateTimeField()),
                        ("ends_at", models.DateTimeField()),
                        ("look_by", models.DateField()),
                        ("finding", models.CharField(blank=True, default="", max_length=300)),
                        ("looked_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "looked_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "person",
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
                                related_name="emergencies",
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
                        "verbose_name": "emergency access",
                        "verbose_name_plural": "emergency accesses",
                        "ordering": ["-opened_at", "-id"],
                        "indexes": [
                            models.Index(
                                fields=["person", "ends_at"], name="registry_emergency_open"
                            ),
                            models.Index(
                                fields=["site", "-opened_at"], name="registry_emergency_site"
                            ),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("reason", ""), _negated=True),
                                name="registry_emergency_has_reason",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("ends_at__gte", models.F("opened_at"))),
                                name="registry_emergency_ends_after_start",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("finding", ""),
                                        ("looked_at__isnull", True),
                                        ("looked_by__isnull", True),
                                    ),
                                    models.Q(
                                        ("looked_at__isnull", False),
                                        ("looked_by__isnull", False),
                                        models.Q(("finding", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_emergency_looked_at_with_a_finding",
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
                                choices=[("given", "Given"), ("opted_out", "Opted out")],
                                max_length=12,
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
                                condition=models.Q(
                                    ("purpose__in", ["registry", "contact", "sharing"])
                                ),
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
                            "system",
                            models.CharField(
                                choices=[
                                    ("neer", "Neer"),
                                    ("ao_ota", "AO/OTA"),
                                    ("rockwood", "Rockwood"),
                                ],
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
                                        ("code__in", ("15.3A", "15.3B", "15.3C")),
                                        ("system", "ao_ota"),
                                    ),
                                    models.Q(
                                        (
                                            "code__in",
                                            ("I", "II", "III", "IIIA", "IIIB", "IV", "V", "VI"),
                                        ),
                                        ("system", "rockwood"),
                                    ),
                                    _connector="OR",
                                ),
                                name="registry_classification_code_of_system",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(
                                    ("superseded", False), ("voided_at__isnull", True)
                                ),
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
                    name="TwoPeople",
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
                        ("said_at", models.DateTimeField()),
                        (
                            "first",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="registry.patient",
                            ),
                        ),
                        (
                            "said_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "second",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="registry.patient",
                            ),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "two people",
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("first", "second"), name="registry_twopeople_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("first__lt", models.F("second"))),
                                name="registry_twopeople_in_order",
                            ),
                        ],
                    },
                ),
            ],
        ),
    ]
