"""The catalogues of what people read, as tests look at them."""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

TOOL = Path(__file__).resolve().parent.parent / "deploy" / "messages.py"


def tool() -> ModuleType:
    """The program that collects, keeps and compiles them."""
    spec = importlib.util.spec_from_file_location("messages", TOOL)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def messages(language: str = "de") -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
    """Every message in English, and what stands for it in the language; singular and plural."""
    made = tool()
    for app in made.APPS:
        for message in made.catalogue(app, language):
            if message.id:
                said = message.string if isinstance(message.string, tuple | list) else (message.string,)
                yield (tuple(message.id) if isinstance(message.id, tuple | list) else (message.id,)), tuple(said)
