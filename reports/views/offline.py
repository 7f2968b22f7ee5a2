"""What a phone needs to go on without network: the service worker, and the page for what it has not kept."""

from __future__ import annotations

import hashlib
import json

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_safe

# Everything that the pages of a pilot ask for, so that each of them opens without network.
FILES = (
    "shop/icon.svg",
    "shop/fonts/public-sans.woff2",
    "shop/fonts/besley-600.woff2",
    "shop/css/ground.css",
    "shop/css/parts.css",
    "shop/css/forms.css",
    "shop/css/adapt.css",
    "shop/js/book.js",
    "shop/js/draft.js",
    "shop/js/form.js",
    "shop/js/outbox.js",
    "shop/js/outbox_page.js",
    "shop/js/plot.js",
    "shop/js/stepper.js",
    "reports/portal.css",
    "reports/inspect.css",
    "reports/card.css",
    "reports/timer.css",
    "reports/log_flight.js",
    "reports/timer.js",
    "reports/timer_alert.js",
    "reports/timer_schedule.js",
    "reports/timer_words.js",
)
WORKER = ("shop/js/outbox.js", "shop/js/worker.js")


@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """The script that the browser keeps for all pages: its bytes change when any file that it keeps has changed."""
    files = [static(name) for name in FILES]
    book = {
        "files": files,
        "nowhere": reverse("no_network"),
        "home": reverse("portal"),
        "start": reverse("home"),
        "login": reverse("account_login"),
        "logout": reverse("account_logout"),
        "static": settings.STATIC_URL,
    }
    scripts = [static(name) for name in WORKER]
    version = hashlib.sha256(json.dumps([book, scripts]).encode()).hexdigest()[:12]
    names = ", ".join(json.dumps(name) for name in scripts)
    text = f"self.BOOK = {json.dumps(book | {'version': version})};\nimportScripts({names});\n"
    response = HttpResponse(text, content_type="text/javascript; charset=utf-8")
    response.headers["Cache-Control"] = "no-cache"
    return response


@require_safe
def no_network(request: HttpRequest) -> HttpResponse:
    """Shown in place of a page that the phone has not kept."""
    return render(request, "reports/portal/no_network.html")
