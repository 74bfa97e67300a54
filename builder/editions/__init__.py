"""Released editions: what each expects in every cell, and the results of the cases at the last release."""

from builder.editions.store import Cell, Edition, UnknownEdition, edition_of_model, known, load_edition

__all__ = ["Cell", "Edition", "UnknownEdition", "edition_of_model", "known", "load_edition"]
