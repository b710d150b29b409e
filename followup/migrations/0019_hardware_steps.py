"""Every step of a hardware decision as a row, and since when nobody has decided."""

import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0018_calendar_feeds"),
        ("registry", "0003_job_runs"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="HardwareStep",
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
            ],
            options={
                "ordering": ["id"],
                "abstract": False,
                "base_manager_name": "everything",
            },
            managers=[
                ("objects", django.db.models.manager.Manager()),
                ("everything", django.db.models.manager.Manager()),
            ],
        ),
        migrations.AddField(
            model_name="hardwaredecision",
            name="first_decided_on",
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="hardwaredecision",
            name="waiting_since",
            field=models.DateField(null=True),
        ),
        migrations.AddIndex(
            model_name="hardwaredecision",
            index=models.Index(fields=["site", "state"], name="followup_hardware_by_state"),
        ),
        migrations.AddField(
            model_name="hardwarestep",
            name="changed_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="hardwarestep",
            name="decision",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="steps",
                to="followup.hardwaredecision",
            ),
        ),
        migrations.AddField(
            model_name="hardwarestep",
            name="recorded_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="hardwarestep",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="registry.site"
            ),
        ),
        migrations.AddField(
            model_name="hardwarestep",
            name="voided_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddIndex(
            model_name="hardwarestep",
            index=models.Index(fields=["decision", "kind"], name="followup_hardwarestep_kind"),
        ),
        migrations.AddConstraint(
            model_name="hardwarestep",
            constraint=models.CheckConstraint(
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
        ),
        migrations.AddConstraint(
            model_name="hardwarestep",
            constraint=models.CheckConstraint(
                condition=models.Q(("version__gte", 1)), name="followup_hardwarestep_version_from_1"
            ),
        ),
        migrations.AddConstraint(
            model_name="hardwarestep",
            constraint=models.CheckConstraint(
                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                name="followup_hardwarestep_changed_after_recorded",
            ),
        ),
        migrations.AddConstraint(
            model_name="hardwarestep",
            constraint=models.CheckConstraint(
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
        ),
        migrations.AddConstraint(
            model_name="hardwarestep",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("source__in", ["", "film", "complication", "patient", "clinician"])
                ),
                name="followup_hardwarestep_source_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="hardwarestep",
            constraint=models.UniqueConstraint(
                condition=models.Q(
                    models.Q(("fact", ""), _negated=True), ("voided_at__isnull", True)
                ),
                fields=("decision", "fact"),
                name="followup_hardwarestep_fact_once",
            ),
        ),
    ]
