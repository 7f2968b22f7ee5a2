"""Which version of this software is running, as pyproject.toml says."""

from __future__ import annotations

import tomllib
from pathlib import Path

VERSION: str = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text())["project"]["version"]
