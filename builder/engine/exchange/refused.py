"""Why a file of a stranger is not taken."""

from __future__ import annotations

from functools import cache

from builder.engine.spec.reading import SPECS
from builder.engine.spec.words import Words
from builder.engine.told import Told


@cache
def _messages() -> Words:
    return Words(SPECS / "messages.en.toml")


class Refused(Told):
    """A file that is not taken: which file, the key of the reason, and the sentence to show."""

    def __init__(self, key: str, file: str, what: object = "", limit: object = "") -> None:
        self.key, self.file, self._filled = key, file, (key, file, what, limit)
        self.sentence = _messages().get("refusal", key).format(file=file, what=what, limit=limit)
        super().__init__(self.sentence)

    def __reduce__(self) -> tuple[type[Refused], tuple[object, ...]]:
        """A process hands it over to another."""
        return Refused, self._filled
