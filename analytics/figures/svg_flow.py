"""From operated to analysed for paper: boxes from top to bottom, those who left beside each arrow."""

from analytics.answers.flow import Flow
from analytics.figures.flow import Box, boxes, flow_words, withdrew_words
from analytics.figures.svg import SIZE, Canvas, Drawing, Point
from analytics.figures.template import INK, SLATE

BOX, GAP, LINE = 24.0, 10.0, 11.0
EDGE, SIDE = 10.0, 24.0


def flow_chart(found: Flow) -> Drawing:
    """Draw every stage with its number and share, and every reason with its number."""
    drawn = boxes(found)
    ends = [f"{part.number} {part.words}" for part in found.ends]
    below = [_reasons(box) for box in drawn]
    heights = [BOX + max(GAP * 2, LINE * (len(lines) + 1) if lines else 0) for lines in below]
    gone = withdrew_words(found)
    top = LINE + 6 if gone else 0
    canvas = Canvas(height=top + sum(heights[:-1]) + BOX + LINE * (len(ends) + 1) + 8)
    if gone:
        canvas.text((EDGE + 8, LINE), gone, colour=SLATE)
    y = 2.0 + top
    for place, (box, lines, height) in enumerate(zip(drawn, below, heights, strict=True)):
        _box(canvas, box, y)
        if place < len(drawn) - 1:
            _arrow(canvas, (EDGE + SIDE, y + BOX), y + height)
            for number, line in enumerate(lines):
                canvas.text((EDGE + SIDE * 2, y + BOX + LINE * (number + 1)), line, colour=SLATE)
            y += height
    for number, line in enumerate(ends):
        canvas.text((EDGE + SIDE * 2, y + BOX + LINE * (number + 1)), line, bold=True)
    return canvas.done(flow_words(found))


def _reasons(box: Box) -> list[str]:
    if not box.left:
        return []
    return [f"{box.gone} went no further:", *(f"  {part.number} {part.words}" for part in box.left)]


def _box(canvas: Canvas, box: Box, y: float) -> None:
    canvas.rect((EDGE, y), (canvas.width - 2 * EDGE, BOX), "#ffffff", INK)
    base = y + BOX / 2 + SIZE / 3
    canvas.text((EDGE + 8, base), str(box.part.number), size=12, bold=True)
    canvas.text((EDGE + 48, base), box.part.words, size=10)
    canvas.text((canvas.width - EDGE - 8, base), box.share, anchor="end", colour=SLATE)


def _arrow(canvas: Canvas, start: Point, end: float) -> None:
    x, y = start
    canvas.line((x, y), (x, end - 5), INK, 1.0)
    canvas.area([(x - 3, end - 6), (x + 3, end - 6), (x, end)], INK, 1.0)
