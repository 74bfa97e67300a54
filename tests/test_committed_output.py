"""The one test that fails when output/ is stale: run `python -m builder build` and commit what it writes."""

from builder.build import differences


def test_output_is_what_the_specs_build() -> None:
    """The committed workbooks and dump are what the specs build now."""
    assert differences() == []
