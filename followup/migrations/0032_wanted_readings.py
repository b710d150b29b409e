import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0031_findings_of_readings"),
        ("registry", "0006_header_identities"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="WantedReading",
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
                ("withdrawn_because", models.CharField(blank=True, default="", max_length=100)),
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
            model_name="reading",
            name="turn",
            field=models.PositiveSmallIntegerField(db_default=1, default=1),
        ),
        migrations.AddConstraint(
            model_name="reading",
            constraint=models.CheckConstraint(
                condition=models.Q(("turn__gte", 1)), name="followup_reading_turn_from_1"
            ),
        ),
        migrations.AddField(
            model_name="wantedreading",
            name="changed_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="wantedreading",
            name="film",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="wanted_readings",
                to="followup.film",
            ),
        ),
        migrations.AddField(
            model_name="wantedreading",
            name="reader",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="wanted_readings",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="wantedreading",
            name="recorded_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="wantedreading",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="registry.site"
            ),
        ),
        migrations.AddField(
            model_name="wantedreading",
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
            model_name="wantedreading",
            index=models.Index(
                condition=models.Q(("state", "wanted"), ("voided_at__isnull", True)),
                fields=["site", "turn", "id"],
                name="followup_wanted_open",
            ),
        ),
        migrations.AddConstraint(
            model_name="wantedreading",
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
                name="followup_wantedreading_void_has_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="wantedreading",
            constraint=models.CheckConstraint(
                condition=models.Q(("version__gte", 1)),
                name="followup_wantedreading_version_from_1",
            ),
        ),
        migrations.AddConstraint(
            model_name="wantedreading",
            constraint=models.CheckConstraint(
                condition=models.Q(("changed_at__gte", models.F("recorded_at"))),
                name="followup_wantedreading_changed_after_recorded",
            ),
        ),
        migrations.AddConstraint(
            model_name="wantedreading",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["wanted", "done", "withdrawn"])),
                name="followup_wantedreading_state_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="wantedreading",
            constraint=models.CheckConstraint(
                condition=models.Q(("because__in", ["all", "share", "near", "disagreement"])),
                name="followup_wantedreading_because_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="wantedreading",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voided_at__isnull", True)),
                fields=("film", "turn"),
                name="followup_wantedreading_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="wantedreading",
            constraint=models.CheckConstraint(
                condition=models.Q(("turn__gte", 2), ("turn__lte", 3)),
                name="followup_wantedreading_turn_2_or_3",
            ),
        ),
        migrations.AddConstraint(
            model_name="wantedreading",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state", "done"), _negated=True),
                    ("reader__isnull", False),
                    _connector="OR",
                ),
                name="followup_wantedreading_done_by_somebody",
            ),
        ),
        migrations.AddConstraint(
            model_name="wantedreading",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("reader__isnull", True),
                        ("state", "withdrawn"),
                        models.Q(("withdrawn_because", ""), _negated=True),
                    ),
                    models.Q(
                        models.Q(("state", "withdrawn"), _negated=True), ("withdrawn_because", "")
                    ),
                    _connector="OR",
                ),
                name="followup_wantedreading_withdrawn_with_cause",
            ),
        ),
    ]
