from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("consulting", "0014_versions_and_changes"),
        ("plans", "0024_count_photos"),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="mix",
            name="mix_version_once",
        ),
        migrations.RenameField(model_name="mix", old_name="version", new_name="edition"),
        migrations.AlterModelOptions(
            name="mix",
            options={"ordering": ["name", "edition"]},
        ),
        migrations.AddField(
            model_name="acceptance",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="calendarfeed",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="clientlink",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="conversion",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="countphoto",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="dayoff",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="mixline",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="plan",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="planoption",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="practicelook",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="recordlabels",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="reportwords",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="mix",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddConstraint(
            model_name="mix",
            constraint=models.UniqueConstraint(
                fields=("practice", "name", "edition"),
                name="mix_edition_once",
                violation_error_message="There is already a mix of this name; choose another.",
            ),
        ),
    ]
