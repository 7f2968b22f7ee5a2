"""The Django project and its people."""

from shop.celery import app as celery_app

__all__ = ["celery_app"]
