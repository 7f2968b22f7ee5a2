"""What every page needs to know about its reader: name, roles, the links of the navigation, demo logins."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from shop import access

STAFF_LINKS = (
    ("board", "Fleet board"),
    ("today", "Today"),
    ("acts", "Shop"),
    ("notices", "Notices"),
    ("people", "People"),
)
PORTAL_LINKS = (("portal", _("My engines")),)


def shell(request: HttpRequest) -> dict[str, Any]:
    """The context of base.html: ``shell`` with ``links``, ``name``, ``roles``, ``is_staff_side``, ``home``.

    Costs no query beyond what the access layer needs to tell the reader's roles. ``demo_logins`` is filled on the
    sign-in page of a demo run only.
    """
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"shell": {"links": [], "home": "/"}, "demo_logins": demo_logins(request)}
    staff = access.is_staff_member(user)
    links: list[tuple[str, str | Promise]] = [*STAFF_LINKS] if staff else [*PORTAL_LINKS]
    if staff and user.is_staff:
        links.append(("admin:index", "Records"))
    if not access.may_now(user, "invite"):
        links = [link for link in links if link[0] != "people"]
    person = getattr(user, "person", None)
    return {
        "shell": {
            "links": [link for name, label in links if (link := _link(request, name, label))],
            "log_url": "" if staff else _url("portal", "#log"),
            "name": str(person or user),
            "roles": ", ".join(sorted(role.replace("_", " ") for role in access.staff_roles(user))),
            "is_staff_side": staff,
            "home": "/",
        },
        "demo_logins": [],
    }


def demo_logins(request: HttpRequest) -> list[dict[str, str]]:
    """The logins of a demo run (role, email, password) on its sign-in page; empty anywhere else."""
    if not getattr(settings, "DEMO_MODE", False) or request.path != _url("account_login"):
        return []
    try:
        rows = json.loads((Path(settings.DATA_DIR) / "demo-logins.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    return [{key: str(row.get(key, "")) for key in ("role", "email", "password")} for row in rows]


def _link(request: HttpRequest, name: str, label: str | Promise) -> dict[str, Any] | None:
    url = _url(name)
    if not url:
        return None
    return {"url": url, "label": label, "current": request.path.startswith(url)}


def _url(name: str, ending: str = "") -> str:
    try:
        return reverse(name) + ending
    except NoReverseMatch:
        return ""
