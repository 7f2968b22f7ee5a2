"""Tests in a real browser: the system's Chromium against a live server in a thread of the test."""

import os
import shutil
from collections.abc import Iterator
from typing import Any

import pytest


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    path = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    # Chromium's own sandbox does not work for root, as in a container.
    arguments = [*(["--no-sandbox"] if os.geteuid() == 0 else [])]
    return {**browser_type_launch_args, "executable_path": path, "args": arguments}


@pytest.fixture(scope="session", autouse=True)
def _django_beside_the_browser() -> Iterator[None]:
    """The browser's driver runs an event loop in this thread, which Django would take for asynchronous code.

    Until the end of the session: the driver outlives the tests of this folder.
    """
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    yield
    if before is None:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
    else:
        os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = before
