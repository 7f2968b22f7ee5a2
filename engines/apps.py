from django.apps import AppConfig


class EnginesConfig(AppConfig):
    name = "engines"
    label = "engines"
    verbose_name = "Engines"
    default_auto_field = "django.db.models.BigAutoField"
