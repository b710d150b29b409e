"""One score of each instrument a day and mode; a score as a share of the norm."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0006_message_key_once"),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="score",
            name="followup_score_once_a_day",
        ),
        migrations.AddField(
            model_name="score",
            name="relative_pct",
            field=models.DecimalField(blank=True, decimal_places=1, max_digits=5, null=True),
        ),
        migrations.AddField(
            model_name="score",
            name="relative_to",
            field=models.CharField(blank=True, default="", max_length=60),
        ),
        migrations.AddConstraint(
            model_name="score",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voided_at__isnull", True)),
                fields=("injury", "instrument", "taken_on", "mode"),
                name="followup_score_once_a_day_and_mode",
            ),
        ),
        migrations.AddConstraint(
            model_name="score",
            constraint=models.CheckConstraint(
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
        ),
    ]
