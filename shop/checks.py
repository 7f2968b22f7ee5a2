"""Faults of the configuration, as Django system checks with a way to mend each."""

import os
from collections.abc import Sequence
from typing import Any
from urllib.parse import urlsplit

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Warning, register
from django.core.exceptions import ImproperlyConfigured
from django.http.request import validate_host


def refuse_faults() -> None:
    """Raise ImproperlyConfigured when the environment holds a value that could not be read.

    Called where a process starts that Django does not check: the web application and the workers.
    """
    if settings.CONFIGURATION_FAULTS:
        lines = [f"{fault.name}: {fault.problem}. {fault.hint}" for fault in settings.CONFIGURATION_FAULTS]
        raise ImproperlyConfigured("\n".join(lines))


@register()
def environment(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """shop.E001: a variable could not be read."""
    return [
        Error(f"{fault.name}: {fault.problem}.", hint=fault.hint, id="shop.E001")
        for fault in settings.CONFIGURATION_FAULTS
    ]


@register()
def data_dir(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """shop.E002: nothing can be kept where DATA_DIR points."""
    folder = settings.DATA_DIR
    if folder.is_dir() and os.access(folder, os.W_OK | os.X_OK):
        return []
    problem = "cannot be written to" if folder.is_dir() else "is not a folder"
    hint = "Make it and give it to the user who runs the program, or set DATA_DIR to another folder."
    return [Error(f"DATA_DIR {folder} {problem}.", hint=hint, id="shop.E002")]


@register()
def site_url(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """shop.E003: the links in mails would lead nowhere."""
    parts = urlsplit(settings.SITE_URL)
    hint = "Write the address that people type, for example SITE_URL=https://runin.example.org"
    if parts.scheme not in {"http", "https"} or not parts.hostname:
        return [Error(f"SITE_URL {settings.SITE_URL!r} is not an http or https address.", hint=hint, id="shop.E003")]
    if not validate_host(parts.hostname, settings.ALLOWED_HOSTS) and not settings.DEBUG:
        problem = f"SITE_URL names {parts.hostname}, which ALLOWED_HOSTS does not hold."
        return [Error(problem, hint=f"Add {parts.hostname} to ALLOWED_HOSTS.", id="shop.E003")]
    return []


@register()
def demo_apart(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """shop.E004: the demo, whose logins stand on its first page, must not send mail to people."""
    if settings.DEMO_MODE and "smtp" in settings.EMAIL_BACKEND:
        hint = "Unset DEMO_MODE, or unset EMAIL_URL so that mails are kept as files."
        return [Error("DEMO_MODE is on and EMAIL_URL names a mail server.", hint=hint, id="shop.E004")]
    return []


@register()
def encrypted(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """shop.W005: passwords would cross a network in clear, and a phone could not work offline."""
    local = settings.BIND in {"127.0.0.1", "::1", "localhost"} or settings.BIND.startswith("unix:")
    if settings.BEHIND_HTTPS or local:
        return []
    hint = "Put a reverse proxy with HTTPS before it and set BEHIND_HTTPS=1; deploy/ has samples."
    return [Warning(f"BIND {settings.BIND} is open to the network without HTTPS.", hint=hint, id="shop.W005")]
