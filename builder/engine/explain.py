"""What stands behind a key: where it is, its formula in names and in cells, limits, source, what it reads and feeds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from builder.engine.addresses import area
from builder.engine.dump import name_of
from builder.engine.layout import Slot
from builder.engine.model import Model
from builder.engine.spec import Row
from builder.engine.spec.errors import nearest
from builder.engine.spec.tokens import names
from builder.engine.told import Told
from builder.engine.twins import ITS_PARTS, twins

MOST = 30  # keys that are listed before the rest is counted


class UnknownKey(Told):
    """No row, input, constant or word has this key; the message names the nearest one."""


def explain(model: Model, key: str) -> list[str]:
    """The lines that explain a key: of a row, an input, a constant, a word (`word.used` or `used`), or a key of `read`.

    Raises UnknownKey.
    """
    lists = model.layout.lists_of
    groups = [list(of_list(model, row, owner)) for row in (f"typed_{key}", key) for owner in lists.get(row, [])]
    lines = [line for slots in groups for line in (*_row(model, slots), "")]
    if key in model.spec.constants:
        lines += [*_constant(model, key), ""]
    if not lines:
        for name in rows_published(model, key):
            lines += [*explain(model, name), ""]
    lines += [line for table, word in _words(model, key) for line in (*_word(model, table, word), "")]
    if not lines:
        raise UnknownKey(f"'{key}' is no key of a row, an input, a constant or a word; {nearest(key, known(model))}")
    return lines[:-1]


def explain_in(models: Sequence[Model], key: str) -> list[str]:
    """The lines that explain a key in each workbook that knows it, below the workbook's name.

    Raises UnknownKey, which names the nearest key and those that contain the word.
    """
    found: dict[tuple[str, ...], list[str]] = {}
    for model in models:
        try:
            lines = tuple(explain(model, key))
        except UnknownKey:
            continue
        found.setdefault(lines, []).append(model.spec.words.get("text", f"{model.spec.name}_title"))
    if not found:
        keys = list(dict.fromkeys(name for model in models for name in known(model)))
        holding = [n for n in keys if key.casefold() in n.casefold() and n.partition("_")[2] not in keys]
        told = f"; keys that contain it: {_listed(holding)}" if holding else ""
        raise UnknownKey(f"'{key}' is no key of a row, an input, a constant or a word; {nearest(key, keys)}{told}")
    told_lines = [line for lines, books in found.items() for line in (f"In: {', '.join(books)}", *lines, "")]
    return told_lines[:-1]


def known(model: Model) -> list[str]:
    """Every key that can be explained."""
    words = [f"{table}.{key}" for table, texts in model.spec.words.tables.items() for key in texts]
    published = [slot.row.publish for slot in model.layout.slots if slot.row.publish]
    return [*model.layout.lists_of, *model.spec.constants, *dict.fromkeys(published), *words]


def of_list(model: Model, key: str, list_name: str) -> Iterator[Slot]:
    """The cells of a row over one list, in their order."""
    return iter(model.layout.cells(list_name, key).values())


def rows_published(model: Model, key: str) -> list[str]:
    """The rows that `read` gives under a key: an input's name, `powers[].srkt`, `srkt_position` of `*_position`."""
    found = []
    for slot in model.layout.slots:
        named = slot.row.publish.replace("*", slot.instance)
        if slot.row.publish and key in (named, slot.row.publish, named.partition("[]")[0]):
            found.append(slot.row.key)
    return list(dict.fromkeys(found))


def _row(model: Model, slots: list[Slot]) -> Iterator[str]:
    row, sheet = slots[0].row, model.spec.sheet_title(slots[0].place.sheet)
    item = row.input
    yield f"{row.key}: {model.spec.words.label(row.label or row.key)}"
    yield f"  sheet    {sheet}, block {slots[0].block.key}, written in specs/{model.spec.name}/{row.file}"
    yield f"  cells    {', '.join(_areas(slots))}"
    if row.unit:
        yield f"  unit     {model.spec.words.get('unit', row.unit)}"
    if row.publish:
        yield f"  read as  {row.publish}"
    if item is not None:
        yield f"  typed    {item.type}" + _limits(model, slots[0])
    for names_, cells, whose in _formulas(model, slots):
        yield f"  formula  {names_}{whose}"
        yield f"           {cells}"
    if any(row.role(s.instance) == "formula" for s in slots):
        at = slots[0].block.instances.name, row.key
        yield f"  checked  by {twins(model).get(at, ITS_PARTS)}"
    held = {s.instance: row.cells[s.instance] for s in slots if row.role(s.instance) == "constant"}
    if held:
        yield "  holds    " + ", ".join(
            f"{value} {'' if slots[0].block.instances.once else i}".strip() for i, value in held.items()
        )
    for source in row.source.split():
        yield from _source(model, source)
    yield f"  fed by   {_listed(_feeders(model, slots))}"
    yield f"  feeds    {_listed(_readers(model, slots))}"


def _areas(slots: list[Slot]) -> Iterator[str]:
    """The cells of a row, side by side where each side has a list of its own, with the first and the last instance."""
    owners = slots[0].block.instances.owners
    for group in [[s for s in slots if s.side == owner] for owner in owners] if len(owners) > 1 else [slots]:
        first, last = group[0], group[-1]
        one, other = first.place, last.place
        cells = area(one.column + 1, one.line + 1, other.column + 1, other.line + 1)
        named = [_whose(s) for s in ((first, last) if len(group) > 1 else (first,)) if not s.block.instances.once]
        yield f"{cells} {' to '.join(named)}".strip()


def _whose(slot: Slot) -> str:
    return name_of(slot).rpartition(".")[0]


def _limits(model: Model, slot: Slot) -> str:
    item = slot.row.input
    assert item is not None
    if item.choices:
        return " of " + ", ".join(repr(model.spec.words.get("choice", choice)) for choice in item.choices)
    said = "" if item.lowest is None and item.highest is None else f" from {item.lowest} to {item.highest}"
    said += f" {model.spec.words.get('unit', item.unit)}" if item.unit else ""
    said += f", {item.default} if left empty" if item.default else ""
    return said + (f", refused if {item.conflict}" if item.conflict else "")


def _formulas(model: Model, slots: list[Slot]) -> Iterator[tuple[str, str, str]]:
    """Each formula in names once, with the cells of the first instance that has it."""
    seen = set()
    for slot in slots:
        if slot.row.role(slot.instance) != "formula":
            continue
        in_names = _in_names(slot)
        if in_names not in seen:
            seen.add(in_names)
            cells = f"{slot.place.address} ={model.compiled[slot.place].formula}"
            yield in_names, cells, f"   ({_whose(slot)})" if slot.instance in slot.row.formulas else ""


def _in_names(slot: Slot) -> str:
    row = slot.row
    if row.echo:
        return f"shows {row.echo}"
    if row.decision is not None:
        return row.decision.said.replace("@", slot.instance) + (", as its parts follow" if row.follows else "")
    return row.formula_of(slot.instance)


def _source(model: Model, key: str) -> Iterator[str]:
    source = next(source for source in model.spec.sources if source["key"] == key)
    yield f"  source   {key}: {source['citation']} ({source['state']})"


def _constant(model: Model, key: str) -> Iterator[str]:
    constant, place = model.spec.constants[key], model.constants[key]
    yield f"{key}: {model.spec.words.label(key)}"
    sheet = model.spec.sheet_title(place.sheet)
    yield f"  sheet    {sheet}, {place.address}; written in specs/{model.spec.constants_file}"
    yield f"  value    {constant.value} {model.spec.words.get('unit', constant.unit) if constant.unit else ''}".rstrip()
    yield f"  mark     {model.spec.words.get('word', f'mark_{constant.mark}')}"
    if constant.source:
        yield from _source(model, constant.source)
    yield f"  feeds    {_listed(_citing(model, key))}"


def _words(model: Model, key: str) -> list[tuple[str, str]]:
    table, dot, word = key.partition(".")
    if dot:
        return [(table, word)] if model.spec.words.has(table, word) else []
    return [(table, key) for table in model.spec.words.tables if table != "label" and model.spec.words.has(table, key)]


def _word(model: Model, table: str, key: str) -> Iterator[str]:
    yield f"{table}.{key}: {model.spec.words.get(table, key)!r}"
    yield f"  written  in specs/{model.spec.words.file} under [{table}]"
    yield f"  cited by {_listed(_citing(model, f'{table}.{key}'))}"


def _formula_rows(model: Model) -> Iterator[tuple[Row, str]]:
    """Each row with each of its formulas, once."""
    rows = {id(slot.row): slot.row for slot in model.layout.slots}
    for row in rows.values():
        for formula in {row.formula or "", row.echo or "", *row.formulas.values()} - {""}:
            yield row, formula


def _citing(model: Model, name: str) -> list[str]:
    cited = [row.key for row in {id(s.row): s.row for s in model.layout.slots}.values() if name in row.cells.values()]
    return cited + [row.key for row, formula in _formula_rows(model) if name in names(formula)]


def _feeders(model: Model, slots: list[Slot]) -> list[str]:
    read = [s.row.key for slot in slots if slot.place in model.compiled for s in model.compiled[slot.place].reads]
    formulas = {slot.row.formula_of(slot.instance) for slot in slots if slot.row.role(slot.instance) == "formula"}
    return read + [n for formula in sorted(formulas) if formula for n in names(formula) if n in model.spec.constants]


def _readers(model: Model, slots: list[Slot]) -> list[str]:
    mine = {slot.place for slot in slots}
    return [c.slot.row.key for c in model.compiled.values() if any(read.place in mine for read in c.reads)]


def _listed(keys: Iterable[str]) -> str:
    found = list(dict.fromkeys(keys))
    more = f" and {len(found) - MOST} more" if len(found) > MOST else ""
    return (", ".join(found[:MOST]) or "nothing") + more
