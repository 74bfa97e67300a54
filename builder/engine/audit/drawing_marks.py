"""What is drawn with: lines, grounds and texts of a chart, each as one word, and what no chart of ours has."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element

from builder.engine.audit.colours import UNREADABLE, WHITE, contrast, of_hex
from builder.engine.audit.stored import local

SMALLEST = 400  # hundredths of a point
NOTHING = "nothing"
EMU = 12700  # of a point
HARMLESS = {"round", "miter", "bevel", "headEnd", "tailEnd", "extLst", "prstDash"}


def child(element: Element | None, *names: str) -> Element | None:
    """The first child of a name, of its first child, and so on."""
    for name in names:
        if element is None:
            return None
        element = next((inner for inner in element if local(inner.tag) == name), None)
    return element


def value(element: Element | None, name: str, default: str) -> str:
    """What the child of a name says."""
    found = child(element, name)
    return default if found is None else found.get("val", default)


def ground(shape: Element | None) -> str:
    """What an area is filled with: a colour, nothing, or in words what is neither; "" when that is not told."""
    for inner in shape if shape is not None else ():
        name = local(inner.tag)
        if name == "noFill":
            return NOTHING
        if name == "solidFill":
            return _colour(inner)
        if name not in ("ln", "extLst", "prstGeom"):
            return name
    return ""


def _colour(fill: Element) -> str:
    for inner in fill:
        told = [(local(c.tag), c.get("val", "")) for c in inner]
        changes = [f"{name} {said}" for name, said in told if (name, said) != ("alpha", "100000")]
        said = inner.get("lastClr") or inner.get("val") or ""
        return " ".join([said.lower() if local(inner.tag) in ("srgbClr", "sysClr") else local(inner.tag), *changes])
    return "a colour that is not told"


def line(shape: Element | None) -> tuple[str, float, str]:
    """The line of a shape: colour or NOTHING ("" when it is not told), points, dashes."""
    found = child(shape, "ln")
    if found is None:
        return "", 0.0, "solid"
    odd = [local(c.tag) for c in found if local(c.tag) not in HARMLESS | {"solidFill", "noFill", "custDash"}]
    colour = ground(Element("x") if found is None else _only_fill(found))
    dash = "dash" if child(found, "custDash") is not None else value(found, "prstDash", "solid")
    return " ".join([colour, *odd]), 0.0 if colour == NOTHING else float(found.get("w", "0")) / EMU, dash


def _only_fill(found: Element) -> Element:
    bare = Element("fill")
    bare.extend([c for c in found if local(c.tag) in ("solidFill", "noFill")])
    return bare


def text(element: Element | None) -> str:
    """The letters of a title or a label; what stands in cells is told as the cells."""
    if element is None:
        return ""
    letters = [inner.text or "" for inner in element.iter() if local(inner.tag) in ("t", "v") and (inner.text or "")]
    cited = [inner.text or "" for inner in element.iter() if local(inner.tag) == "f"]
    if cited and not cited[0].startswith('"'):
        return "=" + cited[0]
    return "".join(letters) if letters else (cited[0].strip('"') if cited else "")


def faint(element: Element | None) -> Iterator[str]:
    """Why type within an element cannot be read: too small, or too like the paper."""
    for inner in element.iter() if element is not None else ():
        if local(inner.tag) not in ("defRPr", "rPr", "endParaRPr"):
            continue
        size = inner.get("sz", "1000")
        if not size.isdigit() or int(size) < SMALLEST:
            yield "too small"
        fill = next((c for c in inner if local(c.tag).endswith("Fill")), None)
        if fill is not None:
            colour = ground(_only_fill(inner))
            if len(colour) != 6 or contrast(of_hex(colour), WHITE) < UNREADABLE:
                yield "like the paper"
        face = child(inner, "latin")
        if face is not None and face.get("charset") == "2":
            yield "signs in place of letters"
