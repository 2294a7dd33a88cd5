from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("sites", "0010_neighbors"),
    ]

    operations = [
        migrations.AddField(
            model_name="exclusion",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="farm",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="field",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="landmark",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="observation",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="prevailingwind",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="walkphoto",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
    ]
