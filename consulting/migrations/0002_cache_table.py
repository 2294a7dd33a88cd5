"""The table of the shared cache, which counts log-in attempts; without it logging in would fail."""

from django.core.management import call_command
from django.db import migrations


def make_cache_table(apps, schema_editor):
    call_command("createcachetable", database=schema_editor.connection.alias, verbosity=0)


class Migration(migrations.Migration):
    dependencies = [("consulting", "0001_initial")]

    operations = [migrations.RunPython(make_cache_table, migrations.RunPython.noop)]
