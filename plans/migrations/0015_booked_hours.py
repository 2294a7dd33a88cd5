from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('consulting', '0010_machine_spans'),
        ('plans', '0014_visit_machines'),
    ]

    operations = [
        migrations.AddField(
            model_name='visit',
            name='booked_hours',
            field=models.FloatField(blank=True, editable=False, null=True),
        ),
    ]
