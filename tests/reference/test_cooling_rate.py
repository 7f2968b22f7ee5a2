"""The fastest cooling of a head: 50 degF a minute at most.

Source: the maker's site citing SI 1094D (published). The figure is the plan's line, and a head that loses just that
much in a minute must read just that from a recording, whatever its sampling.
"""

import numpy as np
import pytest

from breakin.calc.bands import Bands, schedule
from breakin.calc.recording.heads import fastest_fall
from breakin.calc.recording.phases import Course
from breakin.calc.recording.sensors import Probes
from breakin.calc.recording.signals import Signals

PUBLISHED_DEGF_PER_MIN = 50.0


def test_the_plan_takes_the_published_line():
    assert schedule(Bands(), "hour1", cht_limit_degf=460)["cht_drop_limit_f_min"] == PUBLISHED_DEGF_PER_MIN


@pytest.mark.parametrize("step_s", [1, 2, 6])
def test_a_head_losing_50_degf_a_minute_reads_so(step_s):
    t = np.arange(0.0, 1200.0, step_s)
    falling = np.interp(t, [300, 420], [400.0, 300.0])[:, None]
    signals = Signals(t, np.full(len(t), float(step_s)), float(step_s), None, None, None, {})
    course = Course({}, (), (0, len(t)), None, {})
    probes = Probes(falling, np.zeros(1, dtype=bool), ())
    assert fastest_fall(signals, course, probes)[0] == pytest.approx(PUBLISHED_DEGF_PER_MIN, abs=0.6)
