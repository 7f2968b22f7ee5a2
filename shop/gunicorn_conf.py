"""How gunicorn serves the site: `gunicorn -c python:shop.gunicorn_conf shop.wsgi`. Numbers of processes are options."""

import os
import time
from typing import Any

from shop import lifeline, settings

_host = f"[{settings.BIND}]" if ":" in settings.BIND and not settings.BIND.startswith("unix:") else settings.BIND
bind = settings.BIND if settings.BIND.startswith("unix:") else f"{_host}:{settings.PORT}"
worker_class = "gthread"  # synchronous views: threads wait for the database
workers = 2
threads = 4
timeout = 60
graceful_timeout = 15
max_requests = 5000  # a slow leak of memory ends here
max_requests_jitter = 500
preload_app = False  # polars must not be used before a fork
forwarded_allow_ips = settings.FORWARDED_ALLOW_IPS
control_socket_disable = True
loglevel = "warning"
raw_env = [f"WEB_STARTED_AT={time.time():.0f}"]  # for the health page: before the first tick is not yet a fault


def on_starting(server: Any) -> None:
    if "SERVE_PID" in os.environ:
        lifeline.tie_to(int(os.environ["SERVE_PID"]), by_kernel=True)


def post_fork(server: Any, worker: Any) -> None:
    if "SERVE_PID" in os.environ:
        lifeline.tie_to(os.getppid(), by_kernel=True)
