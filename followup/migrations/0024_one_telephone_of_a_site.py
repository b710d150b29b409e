from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("followup", "0023_fill_site_telephone"),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="questionnairesetup",
            name="followup_questionnaire_invites_with_telephone",
        ),
        migrations.RemoveField(model_name="questionnairesetup", name="telephone"),
        migrations.RemoveField(model_name="messagepolicy", name="phone"),
    ]
