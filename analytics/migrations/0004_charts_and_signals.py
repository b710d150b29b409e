"""Running charts fixed before looking, and the signals that they raise."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("analytics", "0003_meetings_and_packs"),
        ("registry", "0004_alternative_contacts"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ChartDesign",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
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
            },
        ),
        migrations.CreateModel(
            name="ChartCase",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
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
            },
        ),
        migrations.CreateModel(
            name="MonitoringPolicy",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
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
            },
        ),
        migrations.CreateModel(
            name="Signal",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
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
            },
        ),
        migrations.CreateModel(
            name="DataCheck",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
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
            },
        ),
        migrations.CreateModel(
            name="SignalStep",
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
            },
        ),
        migrations.AddConstraint(
            model_name="chartdesign",
            constraint=models.CheckConstraint(
                condition=models.Q(("watched__in", ["loss", "infection", "reoperation"])),
                name="analytics_design_watched_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="chartdesign",
            constraint=models.UniqueConstraint(
                fields=("site", "watched", "construct_type", "version"),
                name="analytics_design_version",
            ),
        ),
        migrations.AddConstraint(
            model_name="chartdesign",
            constraint=models.UniqueConstraint(
                condition=models.Q(("superseded", False)),
                fields=("site", "watched", "construct_type"),
                name="analytics_design_one_current",
            ),
        ),
        migrations.AddConstraint(
            model_name="chartdesign",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("odds_ratio__gt", 0), models.Q(("odds_ratio", 1), _negated=True)
                ),
                name="analytics_design_odds",
            ),
        ),
        migrations.AddConstraint(
            model_name="chartdesign",
            constraint=models.CheckConstraint(
                condition=models.Q(("limit__gt", 0)), name="analytics_design_limit"
            ),
        ),
        migrations.AddConstraint(
            model_name="chartdesign",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("baseline_to__gte", models.F("baseline_from")),
                    ("starts_on__gt", models.F("baseline_to")),
                ),
                name="analytics_design_baseline_before_start",
            ),
        ),
        migrations.AddConstraint(
            model_name="chartcase",
            constraint=models.UniqueConstraint(
                fields=("design", "position"), name="analytics_chartcase_position"
            ),
        ),
        migrations.AddConstraint(
            model_name="chartcase",
            constraint=models.UniqueConstraint(
                fields=("design", "case_id"), name="analytics_chartcase_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="chartcase",
            constraint=models.CheckConstraint(
                condition=models.Q(("expected__gt", 0), ("expected__lt", 1)),
                name="analytics_chartcase_risk",
            ),
        ),
        migrations.AddConstraint(
            model_name="monitoringpolicy",
            constraint=models.UniqueConstraint(
                fields=("site", "version"), name="analytics_policy_version"
            ),
        ),
        migrations.AddConstraint(
            model_name="monitoringpolicy",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended_at__isnull", True)),
                fields=("site",),
                name="analytics_policy_one_in_force",
            ),
        ),
        migrations.AddConstraint(
            model_name="monitoringpolicy",
            constraint=models.CheckConstraint(
                condition=models.Q(("text", ""), _negated=True), name="analytics_policy_is_written"
            ),
        ),
        migrations.AddConstraint(
            model_name="monitoringpolicy",
            constraint=models.CheckConstraint(
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
        ),
        migrations.AddIndex(
            model_name="signal",
            index=models.Index(
                condition=models.Q(("state", "closed"), _negated=True),
                fields=["site", "due_on"],
                name="analytics_signal_open",
            ),
        ),
        migrations.AddConstraint(
            model_name="signal",
            constraint=models.UniqueConstraint(
                fields=("design", "position"), name="analytics_signal_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="signal",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("state__in", ["raised", "checks", "review", "finding", "action", "closed"])
                ),
                name="analytics_signal_state_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="signal",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state__in", ["finding", "action", "closed"]), _negated=True),
                    models.Q(
                        models.Q(("finding", ""), _negated=True),
                        models.Q(("finding_kind", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="analytics_signal_goes_on_with_a_finding",
            ),
        ),
        migrations.AddConstraint(
            model_name="signal",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("closed_at__isnull", False), ("state", "closed")),
                    models.Q(
                        models.Q(("state", "closed"), _negated=True), ("closed_at__isnull", True)
                    ),
                    _connector="OR",
                ),
                name="analytics_signal_closed_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="datacheck",
            constraint=models.CheckConstraint(
                condition=models.Q(("subject__in", ["completeness", "coding", "case_mix"])),
                name="analytics_datacheck_subject_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="datacheck",
            constraint=models.CheckConstraint(
                condition=models.Q(("verdict__in", ["sound", "doubt", "explains"])),
                name="analytics_datacheck_verdict_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="datacheck",
            constraint=models.CheckConstraint(
                condition=models.Q(("finding", ""), _negated=True),
                name="analytics_datacheck_says_what_was_found",
            ),
        ),
        migrations.AddConstraint(
            model_name="signalstep",
            constraint=models.CheckConstraint(
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
        ),
        migrations.AddConstraint(
            model_name="signalstep",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("state__in", ["raised", "checks", "review", "finding", "action", "closed"])
                ),
                name="analytics_signalstep_state_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="signalstep",
            constraint=models.CheckConstraint(
                condition=models.Q(("words", ""), _negated=True),
                name="analytics_signalstep_says_why",
            ),
        ),
    ]
