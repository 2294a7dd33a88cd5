from django.apps import AppConfig
from django.core.checks import Tags, register
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate, pre_migrate


class ConsultingConfig(AppConfig):
    name = "consulting"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from consulting import checks, logs, sessions  # noqa: F401 - sessions hears of log-ins
        from consulting.postgres import walls

        pre_migrate.connect(walls.may_write_all, sender=self)
        post_migrate.connect(walls.build)
        connection_created.connect(logs.watch_queries)
        register(walls.check, Tags.database, deploy=True)
        register(checks.deployment, deploy=True)
        register(checks.tile_hosts, Tags.database, deploy=True)
