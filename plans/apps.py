from django.apps import AppConfig


class PlansConfig(AppConfig):
    name = "plans"
    default_auto_field = "django.db.models.BigAutoField"
    verbose_name = "Plans"

    def ready(self) -> None:
        from plans.divided import follow_the_division
        from plans.visits import follow_the_year
        from sites.signals import field_divided, year_changed

        year_changed.connect(follow_the_year, dispatch_uid="visits follow the year")
        field_divided.connect(follow_the_division, dispatch_uid="drafts follow a divided field")
