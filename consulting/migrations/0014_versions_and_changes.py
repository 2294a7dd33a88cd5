import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("consulting", "0013_letters_by_themselves"),
    ]

    operations = [
        migrations.AddField(
            model_name="adjuvantprice",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="client",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="invitation",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="logo",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="machine",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="machinephoto",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="machinespan",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="membership",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="plantprice",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="practice",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="product",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="seedprice",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="supplyprice",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="workrate",
            name="version",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.CreateModel(
            name="Change",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "way",
                    models.CharField(
                        choices=[
                            ("member", "A member"),
                            ("client", "The client’s page"),
                            ("itself", "By itself"),
                        ],
                        max_length=6,
                    ),
                ),
                ("by_name", models.CharField(blank=True, max_length=200)),
                ("kind", models.CharField(max_length=30)),
                ("key", models.BigIntegerField()),
                ("name", models.CharField(blank=True, max_length=300)),
                ("about", models.CharField(max_length=40)),
                ("within", models.CharField(blank=True, max_length=300)),
                (
                    "what",
                    models.CharField(
                        choices=[("added", "Added"), ("changed", "Changed"), ("removed", "Removed")],
                        max_length=7,
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1)),
                ("fields", models.JSONField(blank=True, default=dict)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="consulting.practice",
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "indexes": [
                    models.Index(fields=["practice", "-at", "-id"], name="changes_latest"),
                    models.Index(fields=["practice", "about", "-at"], name="changes_of_a_record"),
                ],
            },
        ),
    ]
