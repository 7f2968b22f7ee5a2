from django.apps import AppConfig


class BreakinConfig(AppConfig):
    name = "breakin"
    label = "breakin"
    verbose_name = "Break-in"
    default_auto_field = "django.db.models.BigAutoField"
