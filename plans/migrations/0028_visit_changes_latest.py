from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("plans", "0027_board_order"),
    ]

    operations = [
        migrations.AddIndex(
            model_name="visitchange",
            index=models.Index(fields=["practice", "-at", "-id"], name="visit_changes_latest"),
        ),
    ]
