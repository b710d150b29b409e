import django.db.models.deletion
import followup.models.messages
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0024_one_telephone_of_a_site"),
        ("registry", "0005_site_telephone"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="messagepolicy",
            name="country_code",
            field=models.CharField(blank=True, db_default="", default="", max_length=4),
        ),
        migrations.AddField(
            model_name="messagepolicy",
            name="stop_words",
            field=models.JSONField(blank=True, default=followup.models.messages.shipped_stop_words),
        ),
        migrations.CreateModel(
            name="Reply",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=120)),
                (
                    "means",
                    models.CharField(
                        choices=[("text", "Text message"), ("email", "E-mail")], max_length=5
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
                        condition=models.Q(("fate__in", ["stopped", "task", "waiting", "seen"])),
                        name="followup_reply_fate_known",
                    ),
                    models.UniqueConstraint(fields=("site", "key"), name="followup_reply_once"),
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
    ]
