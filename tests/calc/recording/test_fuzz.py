"""Whatever the bytes: each file is read, or refused with a reason. Ten thousand cases are in deploy/bench."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.calc.recording.damage import case, holds, originals

CASES = 240


@pytest.fixture(scope="module")
def files():
    return originals()


@pytest.mark.parametrize("lot", range(6))
def test_damaged_files_are_read_or_refused(files, tmp_path, lot):
    outcomes = [case(number, files, tmp_path / "recording.csv") for number in range(lot, CASES, 6)]
    assert {"read", "refused"} == set(outcomes)


MAPPING = {"time": "Time", "engines": {"1": {"rpm": "RPM", "cht": ["CHT 1"]}}, "common": {}, "units": {}}


@settings(max_examples=80, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("bytes") / "recording.csv"
    path.write_bytes(data)
    assert holds(path, MAPPING) in {"read", "refused"}


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.lists(st.text("0123456789.,;:-+eE/\t \"'", max_size=12), min_size=1, max_size=5), min_size=1, max_size=30
    )
)
def test_any_fields_under_a_header_are_read_or_refused(tmp_path_factory, rows):
    path = tmp_path_factory.mktemp("fields") / "recording.csv"
    path.write_text("Time,RPM,CHT 1\n" + "\n".join(",".join(row) for row in rows))
    assert holds(path, MAPPING) in {"read", "refused"}
