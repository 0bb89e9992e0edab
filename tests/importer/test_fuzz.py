"""A short run of the fuzzer; `python -m tests.importer.fuzz 600` is the long one."""

import pytest
from hypothesis import HealthCheck, given, settings

from tests.importer.fuzz import PROPERTIES, check, whole_files


@pytest.mark.parametrize("name", PROPERTIES)
def test_whatever_comes_in_is_imported_in_order_or_refused_in_a_line(name: str) -> None:
    files, protocols = PROPERTIES[name]

    @settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    @given(files, protocols)
    def attempt(raw: bytes, protocol: str | None) -> None:
        check(raw, protocol)

    attempt()


def test_the_sound_files_are_sound() -> None:
    """Else the fuzzer would damage what was never read."""
    kinds = {name: check(raw) for name, raw in whole_files().items()}
    assert "refused" not in kinds.values()
    assert set(kinds.values()) == {"candump", "asc", "trc", "blf", "parquet", "transcript", "table"}
