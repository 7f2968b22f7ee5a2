from django.apps import AppConfig
from django.db.models.signals import post_migrate


class ShopConfig(AppConfig):
    name = "shop"
    label = "shop"
    verbose_name = "Shop"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from shop import checks, guards  # noqa: F401 - checks register themselves; models must be loaded first

        # Sent for each app once all migrations of a run are through: once is enough, and by then every table is there.
        post_migrate.connect(guards.install_after_migrate, sender=self)
