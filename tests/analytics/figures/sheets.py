"""What a drawing has on its sheet: its words and where they stand, and whether anything is cut."""

from itertools import combinations

from analytics.figures.svg import Drawing, Shape, width_of

Box = tuple[float, float, float, float]


def words_of(drawing: Drawing) -> list[str]:
    return [shape.text for shape in drawing.shapes if shape.tag == "text"]


def box(shape: Shape) -> Box:
    """Return about where words stand: left, top, right, bottom."""
    size = float(shape.attributes["font-size"])
    wide = width_of(shape.text, size) * 0.92
    x, y = float(shape.attributes["x"]), float(shape.attributes["y"])
    start = {"start": x, "middle": x - wide / 2, "end": x - wide}[shape.attributes["text-anchor"]]
    return (start, y - size * 0.7, start + wide, y + size * 0.15)


def faults(drawing: Drawing) -> list[str]:
    """Return which words are cut at the edge of the sheet, and which lie over each other."""
    texts = [shape for shape in drawing.shapes if shape.tag == "text" and shape.text]
    found = []
    for shape in texts:
        left, top, right, bottom = box(shape)
        if left < -1 or top < -1 or right > drawing.width + 1 or bottom > drawing.height + 1:
            found.append(f"'{shape.text}' is cut")
    for one, two in combinations(texts, 2):
        a, b = box(one), box(two)
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]:
            found.append(f"'{one.text}' lies over '{two.text}'")
    return found
