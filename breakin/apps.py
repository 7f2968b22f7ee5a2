from django.apps import AppConfig


class BreakinConfig(AppConfig):
    name = "breakin"
    label = "breakin"
    verbose_name = "Break-in"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from breakin import reference_changes  # models must be loaded first
        from breakin.notices.restored import hold_unsent
        from breakin.reading.restored import ask_for_what_is_missing
        from shop.backups import restored

        restored.connect(hold_unsent, dispatch_uid="breakin.hold_unsent")
        restored.connect(ask_for_what_is_missing, dispatch_uid="breakin.ask_for_what_is_missing")
        reference_changes.watch()
