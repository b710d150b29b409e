import django.core.validators
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0029_what_headers_propose"),
        ("registry", "0006_header_identities"),
    ]

    operations = [
        migrations.CreateModel(
            name="ReadingPolicy",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
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
    ]
