"""What is kept from the specs is made anew as soon as one of the files says something else."""

from builder.engine import kept
from builder.engine.spec.reading import SPECS

LEFT = {".csv", ".png"}  # what trials and the simulation left there, which no workbook is made from


def test_every_file_that_a_workbook_is_made_from_counts() -> None:
    """The translations, too: a word that was mended in one must not come out of what was kept as it was."""
    files = {path for path in SPECS.rglob("*") if path.is_file() and path.suffix not in LEFT}
    read = {path for path in files if path.relative_to(SPECS).parts[0] not in kept.NOT_READ}
    assert any(path.suffix == ".po" for path in read)
    assert read - set(kept._sources()) == set()
