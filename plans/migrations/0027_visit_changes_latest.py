from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("plans", "0026_own_species"),
    ]

    operations = [
        migrations.AddIndex(
            model_name="visitchange",
            index=models.Index(fields=["practice", "-at", "-id"], name="visit_changes_latest"),
        ),
    ]
