"""The tables of the analytics."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("registry", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="EndpointChoice",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
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
            name="Snapshot",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("taken_at", models.DateTimeField()),
                ("cutoff", models.DateField()),
                ("audit_position", models.BigIntegerField()),
                ("content_hash", models.CharField(max_length=64)),
                ("row_counts", models.JSONField()),
                ("code_version", models.CharField(max_length=20)),
                ("frames", models.BinaryField()),
            ],
            options={
                "ordering": ["-id"],
                "get_latest_by": "id",
            },
        ),
    ]
