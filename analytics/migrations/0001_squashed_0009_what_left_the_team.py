"""All tables as the migrations up to 0009 left them, for a database that has none of them yet."""

import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models

from registry.migrations._many_tables import CreateModels


class Migration(migrations.Migration):
    replaces = [
        ("analytics", "0001_initial"),
        ("analytics", "0002_snapshot_tables"),
        ("analytics", "0003_meetings_and_packs"),
        ("analytics", "0004_charts_and_signals"),
        ("analytics", "0005_packs_with_surgeons"),
        ("analytics", "0006_figures_of_decisions"),
        ("analytics", "0007_loss_alerts"),
        ("analytics", "0008_alert_mails"),
        ("analytics", "0009_what_left_the_team"),
    ]

    initial = True

    dependencies = [
        ("followup", "0041_files_that_may_name_erased"),
        ("registry", "0018_emergency_accesses"),
    ]

    operations = [
        CreateModels(
            models=[
                migrations.CreateModel(
                    name="Snapshot",
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
                        ("taken_at", models.DateTimeField()),
                        ("cutoff", models.DateField()),
                        ("audit_position", models.BigIntegerField()),
                        ("content_hash", models.CharField(db_index=True, max_length=64)),
                        ("row_counts", models.JSONField()),
                        ("code_version", models.CharField(max_length=20)),
                        ("frames", models.BinaryField(default=b"")),
                        ("definitions", models.JSONField(default=dict)),
                        ("kept_for", models.JSONField(blank=True, default=list)),
                    ],
                    options={
                        "ordering": ["-id"],
                        "get_latest_by": "id",
                    },
                ),
                migrations.CreateModel(
                    name="AlertMail",
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
                                    ("notice", "One that is lost"),
                                    ("digest", "The alerts of a day"),
                                ],
                                max_length=6,
                            ),
                        ),
                        ("key", models.CharField(max_length=80)),
                        ("uuid", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
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
                                max_length=8,
                            ),
                        ),
                        ("wanted_at", models.DateTimeField()),
                        ("claim", models.UUIDField(blank=True, editable=False, null=True)),
                        ("claimed_at", models.DateTimeField(blank=True, null=True)),
                        ("handed_at", models.DateTimeField(blank=True, null=True)),
                        ("sent_at", models.DateTimeField(blank=True, null=True)),
                        ("tries", models.PositiveSmallIntegerField(default=0)),
                        ("because", models.CharField(blank=True, default="", max_length=200)),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="alert_mails",
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
                        "ordering": ["wanted_at", "id"],
                        "indexes": [
                            models.Index(
                                fields=["state", "wanted_at"], name="analytics_a_state_3a0643_idx"
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["notice", "digest"])),
                                name="analytics_alertmail_kind_known",
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
                                name="analytics_alertmail_state_known",
                            ),
                            models.UniqueConstraint(
                                fields=("key",), name="analytics_alertmail_key_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state", "sent"), _negated=True),
                                    ("sent_at__isnull", False),
                                    _connector="OR",
                                ),
                                name="analytics_alertmail_sent_has_time",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="AlertMailChoice",
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
                            "choice",
                            models.CharField(
                                choices=[
                                    ("each", "At once when one is lost, the others once a day"),
                                    ("digest", "Once a day"),
                                    ("none", "Never: I look at the list"),
                                ],
                                default="each",
                                max_length=6,
                            ),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "person",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="alert_mail_choice",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("choice__in", ["each", "digest", "none"])),
                                name="analytics_alertmailchoice_known",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="CaseToWeigh",
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
                        ("marked_at", models.DateTimeField()),
                        (
                            "injury",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="+",
                                to="registry.injury",
                            ),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "cases to weigh",
                        "ordering": ["id"],
                    },
                ),
                migrations.CreateModel(
                    name="ChartDesign",
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
                            "watched",
                            models.CharField(
                                choices=[
                                    ("loss", "Loss of reduction"),
                                    ("infection", "Deep infection within 90 days"),
                                    ("reoperation", "Unplanned reoperation"),
                                ],
                                max_length=12,
                            ),
                        ),
                        ("construct_type", models.CharField(blank=True, default="", max_length=20)),
                        ("version", models.PositiveSmallIntegerField()),
                        ("definition_id", models.SlugField(max_length=40)),
                        ("definition_version", models.PositiveSmallIntegerField()),
                        ("horizon", models.CharField(max_length=4)),
                        ("odds_ratio", models.FloatField()),
                        ("run_length", models.PositiveIntegerField()),
                        ("limit", models.FloatField()),
                        ("false_alarm", models.FloatField()),
                        ("delay", models.FloatField()),
                        ("baseline_from", models.DateField()),
                        ("baseline_to", models.DateField()),
                        ("basis", models.JSONField()),
                        ("starts_on", models.DateField()),
                        ("answer_days", models.PositiveSmallIntegerField()),
                        ("fixed_at", models.DateTimeField()),
                        ("reason", models.CharField(max_length=300)),
                        ("superseded", models.BooleanField(default=False)),
                        (
                            "fixed_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "owner",
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
                                related_name="chart_designs",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["site", "watched", "construct_type", "-version"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("watched__in", ["loss", "infection", "reoperation"])
                                ),
                                name="analytics_design_watched_known",
                            ),
                            models.UniqueConstraint(
                                fields=("site", "watched", "construct_type", "version"),
                                name="analytics_design_version",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("superseded", False)),
                                fields=("site", "watched", "construct_type"),
                                name="analytics_design_one_current",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("odds_ratio__gt", 0),
                                    models.Q(("odds_ratio", 1), _negated=True),
                                ),
                                name="analytics_design_odds",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("limit__gt", 0)), name="analytics_design_limit"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("baseline_to__gte", models.F("baseline_from")),
                                    ("starts_on__gt", models.F("baseline_to")),
                                ),
                                name="analytics_design_baseline_before_start",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ChartCase",
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
                        ("position", models.PositiveIntegerField()),
                        ("case_id", models.BigIntegerField()),
                        ("performed_on", models.DateField()),
                        ("outcome", models.BooleanField()),
                        ("expected", models.FloatField()),
                        ("entered_on", models.DateField()),
                        (
                            "design",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="cases",
                                to="analytics.chartdesign",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["design", "position"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("design", "position"), name="analytics_chartcase_position"
                            ),
                            models.UniqueConstraint(
                                fields=("design", "case_id"), name="analytics_chartcase_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("expected__gt", 0), ("expected__lt", 1)),
                                name="analytics_chartcase_risk",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="EndpointChoice",
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
                        ("endpoint", models.SlugField(max_length=40)),
                        ("definition_id", models.SlugField(max_length=40)),
                        ("definition_version", models.PositiveSmallIntegerField()),
                        ("chosen_on", models.DateField()),
                        ("superseded", models.BooleanField(default=False)),
                        (
                            "chosen_by",
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
                                related_name="endpoint_choices",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["site", "endpoint", "-id"],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("superseded", False)),
                                fields=("site", "endpoint"),
                                name="analytics_choice_one_current",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="LossAlert",
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
                        ("definition_id", models.SlugField(max_length=40)),
                        ("definition_version", models.PositiveSmallIntegerField()),
                        (
                            "level",
                            models.CharField(
                                choices=[
                                    ("lost", "Lost"),
                                    ("near", "Within measurement error of being lost"),
                                ],
                                max_length=4,
                            ),
                        ),
                        ("measure", models.FloatField(blank=True, null=True)),
                        ("error", models.FloatField(blank=True, null=True)),
                        ("threshold", models.FloatField()),
                        ("raised_at", models.DateTimeField()),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("open", "Open"),
                                    ("planned", "Planned"),
                                    ("taken_back", "No longer so"),
                                ],
                                default="open",
                                max_length=10,
                            ),
                        ),
                        (
                            "plan",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("observe", "Observe: another film by then"),
                                    ("imaging", "Further imaging"),
                                    ("discuss", "Discuss at the meeting"),
                                    ("revise", "Revise"),
                                ],
                                default="",
                                max_length=8,
                            ),
                        ),
                        ("due_on", models.DateField(blank=True, null=True)),
                        ("closed_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "closed_because",
                            models.CharField(blank=True, default="", max_length=400),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "film",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="followup.film",
                            ),
                        ),
                        (
                            "procedure",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="loss_alerts",
                                to="registry.procedure",
                            ),
                        ),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="loss_alerts",
                                to="registry.site",
                            ),
                        ),
                        (
                            "surgeon",
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
                        "ordering": ["raised_at", "id"],
                        "indexes": [
                            models.Index(
                                condition=models.Q(("state", "open")),
                                fields=["site", "raised_at"],
                                name="analytics_lossalert_open",
                            )
                        ],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("state", "taken_back"), _negated=True),
                                fields=(
                                    "procedure",
                                    "definition_id",
                                    "definition_version",
                                    "level",
                                ),
                                name="analytics_lossalert_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("level__in", ["lost", "near"])),
                                name="analytics_lossalert_level_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("state__in", ["open", "planned", "taken_back"])
                                ),
                                name="analytics_lossalert_state_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("due_on__isnull", True), ("plan", "")),
                                    models.Q(
                                        ("plan__in", ["observe", "imaging", "discuss", "revise"]),
                                        ("due_on__isnull", False),
                                    ),
                                    _connector="OR",
                                ),
                                name="analytics_lossalert_plan_has_a_day",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state", "planned"), _negated=True),
                                    models.Q(("plan", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="analytics_lossalert_planned_says_what",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("closed_at__isnull", False),
                                        ("state", "taken_back"),
                                        models.Q(("closed_because", ""), _negated=True),
                                    ),
                                    models.Q(
                                        models.Q(("state", "taken_back"), _negated=True),
                                        ("closed_at__isnull", True),
                                        ("closed_because", ""),
                                    ),
                                    _connector="OR",
                                ),
                                name="analytics_lossalert_taken_back_says_why",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="AlertTold",
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
                            "mail",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="told",
                                to="analytics.alertmail",
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
                            "alert",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="told",
                                to="analytics.lossalert",
                            ),
                        ),
                    ],
                    options={
                        "verbose_name_plural": "alerts told",
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("alert", "person"), name="analytics_alerttold_once"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="LossAlertStep",
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
                                    ("raised", "Raised by a reading"),
                                    ("planned", "Acknowledged with a plan"),
                                    ("taken_back", "No longer so"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("words", models.CharField(max_length=500)),
                        (
                            "alert",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="steps",
                                to="analytics.lossalert",
                            ),
                        ),
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
                    ],
                    options={
                        "ordering": ["id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("kind__in", ["raised", "planned", "taken_back"])
                                ),
                                name="analytics_lossalertstep_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("words", ""), _negated=True),
                                name="analytics_lossalertstep_says_why",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Meeting",
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
                        ("held_on", models.DateField()),
                        ("attended", models.PositiveSmallIntegerField()),
                        ("notes", models.TextField(blank=True, default="", max_length=4000)),
                        ("recorded_at", models.DateTimeField()),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "recorded_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "sites",
                            models.ManyToManyField(
                                related_name="meetings",
                                through="analytics.MeetingSite",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-held_on", "-id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("attended__gte", 1)),
                                name="analytics_meeting_somebody_came",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="MeetingDecision",
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
                        ("words", models.CharField(max_length=500)),
                        ("due_on", models.DateField(blank=True, null=True)),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("stands", "Stands"),
                                    ("open", "Open"),
                                    ("done", "Done"),
                                    ("dropped", "Dropped"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("figure", models.CharField(blank=True, default="", max_length=500)),
                        ("version", models.PositiveIntegerField(default=1)),
                        ("figure_said", models.TextField(blank=True, default="", max_length=2000)),
                        (
                            "figure_definition",
                            models.CharField(blank=True, default="", max_length=60),
                        ),
                        (
                            "figure_snapshot",
                            models.CharField(blank=True, default="", max_length=64),
                        ),
                        ("figure_cutoff", models.DateField(blank=True, null=True)),
                        (
                            "meeting",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="decisions",
                                to="analytics.meeting",
                            ),
                        ),
                        (
                            "owner",
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
                        "indexes": [
                            models.Index(
                                condition=models.Q(("state", "open")),
                                fields=["due_on"],
                                name="analytics_decision_open",
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("state__in", ["stands", "open", "done", "dropped"])
                                ),
                                name="analytics_decision_state_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("due_on__isnull", True),
                                        ("owner__isnull", True),
                                        ("state", "stands"),
                                    ),
                                    models.Q(
                                        models.Q(("state", "stands"), _negated=True),
                                        ("due_on__isnull", False),
                                        ("owner__isnull", False),
                                    ),
                                    _connector="OR",
                                ),
                                name="analytics_decision_action_has_owner_and_day",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="DecisionStep",
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
                                    ("taken", "Decided"),
                                    ("changed", "Put to another owner or day"),
                                    ("done", "Done"),
                                    ("dropped", "Dropped"),
                                    ("reopened", "Opened again"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("on", models.DateField()),
                        ("words", models.CharField(blank=True, default="", max_length=300)),
                        ("due_on", models.DateField(blank=True, null=True)),
                        (
                            "by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "owner",
                            models.ForeignKey(
                                blank=True,
                                null=True,
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
                                to="analytics.meetingdecision",
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
                                        ["taken", "changed", "done", "dropped", "reopened"],
                                    )
                                ),
                                name="analytics_decisionstep_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("kind", "taken"),
                                    models.Q(("words", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="analytics_decisionstep_says_why",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="MeetingSite",
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
                            "meeting",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="places",
                                to="analytics.meeting",
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
                                fields=("meeting", "site"), name="analytics_meetingsite_once"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="MonitoringPolicy",
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
                        ("version", models.PositiveSmallIntegerField()),
                        ("text", models.TextField(max_length=8000)),
                        ("surgeons", models.BooleanField(default=False)),
                        ("charts", models.BooleanField(default=False)),
                        ("switched_on_at", models.DateTimeField()),
                        ("ended_at", models.DateTimeField(blank=True, null=True)),
                        ("ended_because", models.CharField(blank=True, default="", max_length=300)),
                        (
                            "ended_by",
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
                                related_name="monitoring_policies",
                                to="registry.site",
                            ),
                        ),
                        (
                            "switched_on_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["site", "-version"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("site", "version"), name="analytics_policy_version"
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("ended_at__isnull", True)),
                                fields=("site",),
                                name="analytics_policy_one_in_force",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("text", ""), _negated=True),
                                name="analytics_policy_is_written",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("ended_at__isnull", True),
                                        ("ended_because", ""),
                                        ("ended_by__isnull", True),
                                    ),
                                    models.Q(
                                        ("ended_at__isnull", False),
                                        ("ended_by__isnull", False),
                                        models.Q(("ended_because", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="analytics_policy_end_says_why",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Pack",
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
                        ("address", models.CharField(blank=True, default="", max_length=500)),
                        ("for_outside", models.BooleanField(default=False)),
                        ("asked_at", models.DateTimeField()),
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
                        ("reason", models.CharField(blank=True, default="", max_length=400)),
                        ("sections_done", models.PositiveSmallIntegerField(default=0)),
                        ("sections_all", models.PositiveSmallIntegerField(default=0)),
                        ("made_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "surgeons",
                            models.CharField(
                                choices=[
                                    ("none", "No surgeon is shown"),
                                    ("own", "The own point of whoever asked for it"),
                                    ("all", "All surgeons"),
                                ],
                                db_default="none",
                                default="none",
                                max_length=4,
                            ),
                        ),
                        (
                            "asked_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "meeting",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="packs",
                                to="analytics.meeting",
                            ),
                        ),
                        (
                            "sites",
                            models.ManyToManyField(
                                related_name="packs",
                                through="analytics.PackSite",
                                to="registry.site",
                            ),
                        ),
                        (
                            "snapshot",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="packs",
                                to="analytics.snapshot",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("state__in", ["asked", "being_made", "ready", "failed"])
                                ),
                                name="analytics_pack_state_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state", "failed"), _negated=True),
                                    models.Q(("reason", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="analytics_pack_failed_says_why",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state", "ready"), _negated=True),
                                    models.Q(
                                        ("made_at__isnull", False), ("snapshot__isnull", False)
                                    ),
                                    _connector="OR",
                                ),
                                name="analytics_pack_ready_has_snapshot",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("surgeons__in", ["none", "own", "all"])),
                                name="analytics_pack_surgeons_known",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="PackFile",
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
                                    ("pdf", "Pages (PDF)"),
                                    ("tables", "Tables (CSV in a ZIP)"),
                                    ("document", "Sections"),
                                    ("pdf_named", "Pages with surgeons (PDF)"),
                                    ("tab_named", "Tables with surgeons (CSV in a ZIP)"),
                                    ("doc_named", "Sections with surgeons"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("content", models.BinaryField()),
                        ("content_hash", models.CharField(max_length=64)),
                        (
                            "pack",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="files",
                                to="analytics.pack",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("pack", "kind"), name="analytics_packfile_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "kind__in",
                                        [
                                            "pdf",
                                            "tables",
                                            "document",
                                            "pdf_named",
                                            "tab_named",
                                            "doc_named",
                                        ],
                                    )
                                ),
                                name="analytics_packfile_kind_known",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="PackSite",
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
                            "pack",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="places",
                                to="analytics.pack",
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
                                fields=("pack", "site"), name="analytics_packsite_once"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Release",
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
                        ("what", models.CharField(max_length=80)),
                        ("cohort", models.CharField(max_length=300)),
                        ("snapshot_hash", models.CharField(max_length=64)),
                        ("content_hash", models.CharField(max_length=64)),
                        ("at", models.DateTimeField()),
                        (
                            "by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-id"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("what", "cohort", "snapshot_hash", "content_hash"),
                                name="analytics_release_once",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="ReleasedPopulation",
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
                        ("group", models.CharField(max_length=80)),
                        ("members_hash", models.CharField(max_length=64, unique=True)),
                        ("members", models.JSONField()),
                        ("number", models.PositiveIntegerField()),
                        (
                            "release",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="populations",
                                to="analytics.release",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("number__gt", 7)),
                                name="analytics_population_not_few",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Signal",
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
                        ("position", models.PositiveIntegerField()),
                        ("cases", models.PositiveIntegerField()),
                        ("events", models.PositiveIntegerField()),
                        ("expected_events", models.FloatField()),
                        ("raised_at", models.DateTimeField()),
                        ("due_on", models.DateField()),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("raised", "Raised"),
                                    ("checks", "Data being checked"),
                                    ("review", "Cases under review"),
                                    ("finding", "Finding written down"),
                                    ("action", "Action agreed"),
                                    ("closed", "Closed"),
                                ],
                                default="raised",
                                max_length=10,
                            ),
                        ),
                        (
                            "finding_kind",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("data", "The data: incomplete, late, or recorded wrongly"),
                                    ("case_mix", "The patients differ from those of the baseline"),
                                    ("chance", "Nothing found: chance remains the likeliest"),
                                    ("practice", "Something in care has changed"),
                                    ("implant", "Something about an implant or a technique"),
                                    ("other", "Something else"),
                                ],
                                default="",
                                max_length=10,
                            ),
                        ),
                        ("finding", models.TextField(blank=True, default="", max_length=4000)),
                        ("action", models.TextField(blank=True, default="", max_length=4000)),
                        ("closed_at", models.DateTimeField(blank=True, null=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "design",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="signals",
                                to="analytics.chartdesign",
                            ),
                        ),
                        (
                            "owner",
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
                                related_name="signals",
                                to="registry.site",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["due_on", "id"],
                        "indexes": [
                            models.Index(
                                condition=models.Q(("state", "closed"), _negated=True),
                                fields=["site", "due_on"],
                                name="analytics_signal_open",
                            )
                        ],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("design", "position"), name="analytics_signal_once"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        [
                                            "raised",
                                            "checks",
                                            "review",
                                            "finding",
                                            "action",
                                            "closed",
                                        ],
                                    )
                                ),
                                name="analytics_signal_state_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("state__in", ["finding", "action", "closed"]),
                                        _negated=True,
                                    ),
                                    models.Q(
                                        models.Q(("finding", ""), _negated=True),
                                        models.Q(("finding_kind", ""), _negated=True),
                                    ),
                                    _connector="OR",
                                ),
                                name="analytics_signal_goes_on_with_a_finding",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("closed_at__isnull", False), ("state", "closed")),
                                    models.Q(
                                        models.Q(("state", "closed"), _negated=True),
                                        ("closed_at__isnull", True),
                                    ),
                                    _connector="OR",
                                ),
                                name="analytics_signal_closed_when",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="DataCheck",
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
                            "subject",
                            models.CharField(
                                choices=[
                                    ("completeness", "Completeness"),
                                    ("coding", "Coding"),
                                    ("case_mix", "Case mix"),
                                ],
                                max_length=12,
                            ),
                        ),
                        (
                            "verdict",
                            models.CharField(
                                choices=[
                                    ("sound", "Nothing there that could explain it"),
                                    ("doubt", "Could explain part of it"),
                                    ("explains", "Explains it"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("finding", models.TextField(max_length=2000)),
                        ("facts", models.JSONField()),
                        ("operated_from", models.DateField(blank=True, null=True)),
                        ("operated_to", models.DateField(blank=True, null=True)),
                        ("looked_at", models.DateTimeField()),
                        (
                            "looked_by",
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
                                related_name="data_checks",
                                to="registry.site",
                            ),
                        ),
                        (
                            "signal",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="checks",
                                to="analytics.signal",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["-id"],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("subject__in", ["completeness", "coding", "case_mix"])
                                ),
                                name="analytics_datacheck_subject_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("verdict__in", ["sound", "doubt", "explains"])),
                                name="analytics_datacheck_verdict_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("finding", ""), _negated=True),
                                name="analytics_datacheck_says_what_was_found",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SignalStep",
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
                                    ("raised", "Raised by the chart"),
                                    ("check", "Data looked at"),
                                    ("review", "Review of cases begun"),
                                    ("finding", "Finding written down"),
                                    ("action", "Action agreed"),
                                    ("closed", "Closed"),
                                    ("reopened", "Opened again"),
                                    ("owner", "Given to another owner"),
                                    ("due", "Put off"),
                                ],
                                max_length=10,
                            ),
                        ),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("raised", "Raised"),
                                    ("checks", "Data being checked"),
                                    ("review", "Cases under review"),
                                    ("finding", "Finding written down"),
                                    ("action", "Action agreed"),
                                    ("closed", "Closed"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("words", models.TextField(max_length=4000)),
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
                            "signal",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="steps",
                                to="analytics.signal",
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
                                            "raised",
                                            "check",
                                            "review",
                                            "finding",
                                            "action",
                                            "closed",
                                            "reopened",
                                            "owner",
                                            "due",
                                        ],
                                    )
                                ),
                                name="analytics_signalstep_kind_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "state__in",
                                        [
                                            "raised",
                                            "checks",
                                            "review",
                                            "finding",
                                            "action",
                                            "closed",
                                        ],
                                    )
                                ),
                                name="analytics_signalstep_state_known",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("words", ""), _negated=True),
                                name="analytics_signalstep_says_why",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SnapshotTable",
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
                        ("rows", models.PositiveIntegerField()),
                        ("content_hash", models.CharField(max_length=64)),
                        ("bytes_hash", models.CharField(max_length=64)),
                        ("content", models.BinaryField()),
                        (
                            "snapshot",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.CASCADE,
                                related_name="tables",
                                to="analytics.snapshot",
                            ),
                        ),
                    ],
                    options={
                        "ordering": ["snapshot", "id"],
                        "constraints": [
                            models.UniqueConstraint(
                                fields=("snapshot", "name"), name="analytics_snapshottable_once"
                            )
                        ],
                    },
                ),
            ],
        ),
    ]
