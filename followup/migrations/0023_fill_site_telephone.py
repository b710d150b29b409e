from django.db import migrations

BETWEEN = " / "
QUESTIONNAIRE_LENGTH, MESSAGE_LENGTH = 40, 30


def fill(apps, schema_editor):
    """Give each site the number of its questionnaires and its messages; both where they differ."""
    site = apps.get_model("registry", "Site")
    setups = apps.get_model("followup", "QuestionnaireSetup").objects
    policies = apps.get_model("followup", "MessagePolicy").objects
    asked = dict(setups.values_list("site_id", "telephone"))
    written = dict(policies.values_list("site_id", "phone"))
    for row in site.objects.iterator():
        found = [numbers.get(row.pk, "").strip() for numbers in (asked, written)]
        row.telephone = BETWEEN.join(dict.fromkeys(number for number in found if number))
        if row.telephone:
            row.save(update_fields=["telephone"])


def empty(apps, schema_editor):
    """Give the number back to both: the first one to the questionnaires, the last to the messages."""
    site = apps.get_model("registry", "Site")
    for row in site.objects.exclude(telephone="").iterator():
        numbers = row.telephone.split(BETWEEN)
        apps.get_model("followup", "QuestionnaireSetup").objects.filter(site_id=row.pk).update(
            telephone=numbers[0][:QUESTIONNAIRE_LENGTH]
        )
        apps.get_model("followup", "MessagePolicy").objects.filter(site_id=row.pk).update(
            phone=numbers[-1][:MESSAGE_LENGTH]
        )


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0022_public_holidays"),
        ("registry", "0005_site_telephone"),
    ]

    operations = [migrations.RunPython(fill, empty)]
