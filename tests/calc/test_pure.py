"""The calculations need neither Django nor a clock."""

import subprocess
import sys
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]

BLOCKED = """
import sys
for name in ("django", "celery", "rest_framework"):
    sys.modules[name] = None
import breakin.calc.oil, breakin.calc.plan, breakin.calc.power, breakin.calc.heat, breakin.calc.survival
"""


def test_calculations_import_where_django_is_missing():
    done = subprocess.run([sys.executable, "-c", BLOCKED], cwd=TOP, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_no_calculation_asks_for_the_time():
    for path in (TOP / "breakin" / "calc").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert "import datetime" not in text, path
        assert "import time" not in text, path
