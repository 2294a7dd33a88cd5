from django.apps import AppConfig


class ConsultingConfig(AppConfig):
    name = "consulting"
    default_auto_field = "django.db.models.BigAutoField"
