"""What can be checked of a whole workbook spec before anything is laid out."""

from __future__ import annotations

from builder.spec.errors import SpecError, nearest
from builder.spec.model import WorkbookSpec


def check_spec(spec: WorkbookSpec) -> None:
    """Names are unique in their list and no constant; every row has a label; every source and choice has its words."""
    seen: dict[tuple[str, str], str] = {}
    known = {source["key"] for source in spec.sources}
    keys = [block.key for _, block in spec.blocks()]
    for _, block in spec.blocks():
        if keys.count(block.key) > 1:
            raise SpecError(
                block.file, block.key, "is the key of two blocks", "Rename one; <inputs>_state and the like are taken"
            )
        for row in block.rows:
            place = (block.instances.name, row.key)
            if place in seen or row.key in spec.constants:
                raise SpecError(
                    row.file, row.key, "is named twice", f"The other one is in {seen.get(place, 'constants.toml')}"
                )
            seen[place] = row.file
            if (not row.label or row.of) and row.kind != "blank":
                spec.words.label(row.label or row.key)
            if row.of:
                spec.words.label(f"of_{row.of}")
            if row.unit:
                spec.words.get("unit", row.unit)
            if row.source and row.source not in known:
                raise SpecError(
                    row.file, row.key, f"cites the unknown source '{row.source}'", nearest(row.source, known)
                )
            for instance in (*row.formulas, *row.cells):
                if instance not in block.instances.keys:
                    raise SpecError(
                        row.file,
                        row.key,
                        f"speaks of the unknown instance '{instance}'",
                        nearest(instance, block.instances.keys),
                    )
    for item in spec.inputs:
        for choice in item.choices:
            spec.words.get("choice", choice)
    for constant in spec.constants.values():
        spec.words.label(constant.key)
        if constant.source and constant.source not in known:
            raise SpecError(
                "constants.toml",
                constant.key,
                f"cites the unknown source '{constant.source}'",
                nearest(constant.source, known),
            )
