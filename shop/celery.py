"""The Celery application; its settings are the CELERY_ ones of shop/settings.py."""

import os
import warnings
from typing import Any, TextIO

from celery import Celery
from celery.signals import beat_embedded_init, celeryd_init, worker_process_init

from shop import broker, lifeline

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")

app = Celery("shop")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()

_held_queues: list[TextIO] = []


@celeryd_init.connect
def prepare_worker(options: dict[str, Any] | None = None, **_kwargs: Any) -> None:
    """Refuse faulty settings; end with `serve`; become the only worker of the embedded queues."""
    from django.conf import settings

    from shop.checks import refuse_faults

    refuse_faults()
    if "SERVE_PID" in os.environ:
        # serve says it once; three processes would repeat it in six lines each
        warnings.filterwarnings("ignore", message="You're running the worker with superuser")
        lifeline.tie_to(int(os.environ["SERVE_PID"]), by_kernel=True)
    if settings.REDIS_URL:
        return
    names = (options or {}).get("queues") or [queue.name for queue in settings.CELERY_TASK_QUEUES]
    for name in names.split(",") if isinstance(names, str) else names:
        _held_queues.append(broker.take_over(settings.QUEUE_DIR, name))


@worker_process_init.connect
@beat_embedded_init.connect
def tie_child(**_kwargs: Any) -> None:
    """A task must not go on in a child whose worker was killed: its message is given to another one."""
    lifeline.tie_to(os.getppid(), by_kernel=False)
