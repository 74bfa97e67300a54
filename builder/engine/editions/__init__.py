"""Released editions: what each expects in every cell."""

from builder.engine.editions.store import Cell, Edition, UnknownEdition, edition_of_model, known, load_edition

__all__ = ["Cell", "Edition", "UnknownEdition", "edition_of_model", "known", "load_edition"]
