"""How much of a workbook's part would be held in memory at a time, found out before it is read."""

from pyexpat import ExpatError, ParserCreate
from typing import Any

from openpyxl.xml.constants import SHEET_MAIN_NS

from registry.errors import BadInput
from registry.exchange.sheet_text import WHAT_TO_GIVE

PAGES, TEXTS, STYLES = "xl/worksheets/", "sharedStrings.xml", "xl/styles.xml"
# What a sheet of the format has at most; a cell is written as itself, a formula and its result.
MOST_CELLS, MOST_LINES = 16_384, 1_048_576
MOST_IN_ONE = 4 * MOST_CELLS
BYTES_IN_ONE, BYTES_AROUND = 4_000_000, 20_000_000
# Outside of rows and texts: of what becomes objects, and of what is passed over.
MOST_HELD, MOST_AROUND = 200_000, 500_000
SEPARATOR = "}"
VALUE, FORMULA = f"{SHEET_MAIN_NS}{SEPARATOR}v", f"{SHEET_MAIN_NS}{SEPARATOR}f"


class PartMeter:
    """Counts what a part is made of, block by block; refuses one that would be held without end.

    The reader lets go of a row of a sheet, and of a shared text, when it has read it, and of nothing else.
    Names and counts are taken as the reader takes them: by the same parser.
    """

    def __init__(self, name: str) -> None:
        """Take the name of the part."""
        self.is_page = name.startswith(PAGES)
        self.most_around = MOST_HELD if self.is_page or name == STYLES else MOST_AROUND
        one = "row" if self.is_page else "si" if name.endswith(TEXTS) else ""
        self.one = f"{SHEET_MAIN_NS}{SEPARATOR}{one}" if one else ""
        self.name = name
        self.ones = self.inside = self.around = self.depth = 0
        self.fed = self.began = self.bytes_around = 0
        # Whether a formula of text stands without any result, be it an empty one.
        self.lacks_text = False
        self._text_formula = self._has_result = False
        self._reads = True
        self._parser: Any = ParserCreate(namespace_separator=SEPARATOR)
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end

    def take(self, block: bytes) -> None:
        """Look at the next block. Raises BadInput for a part that is too much to hold."""
        if not self._reads:
            return
        self.fed += len(block)
        try:
            self._parser.Parse(block)
        except ExpatError:
            # Whoever reads the part gets no further either, and says so if it is needed.
            self._reads = False
        standing = self.fed - self.began
        if self.depth:
            if standing > BYTES_IN_ONE:
                raise self._too_much()
        elif self.bytes_around + standing > BYTES_AROUND:
            raise self._too_much()

    def hold(self) -> None:
        """Refuse what was looked through if it is too much to become objects as a whole."""
        if self.around > MOST_HELD:
            raise self._too_much()

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if self.depth:
            if self.depth == 1:
                self._text_formula, self._has_result = False, attributes.get("t") != "str"
            elif name == FORMULA:
                self._text_formula = True
            elif name == VALUE:
                self._has_result = True
            self.depth += 1
            self.inside += 1
            if self.inside > MOST_IN_ONE:
                raise self._too_much()
        elif name == self.one:
            self.depth, self.inside, self.ones = 1, 0, self.ones + 1
            self._pass()
            if self.ones > MOST_LINES:
                raise self._too_much()
        else:
            self.around += 1
            if self.around > self.most_around:
                raise self._too_much()

    def _end(self, _: str) -> None:
        if self.depth:
            self.depth -= 1
            if self.depth == 1 and self._text_formula and not self._has_result:
                self.lacks_text = True
            elif not self.depth:
                self.began = self._parser.CurrentByteIndex

    def _pass(self) -> None:
        here = self._parser.CurrentByteIndex
        self.bytes_around += here - self.began
        self.began = here

    def _too_much(self) -> BadInput:
        if self.depth and self.ones > MOST_LINES:
            what = f"more than {MOST_LINES:,} rows or texts"
        elif self.depth and self.is_page:
            what = f"more than {MOST_CELLS:,} cells or {BYTES_IN_ONE:,} letters in row {self.ones}"
        elif self.depth:
            what = "a text longer than any cell holds"
        else:
            what = "more styles or notes around its cells than any list needs"
        return BadInput(
            f"This workbook has {what} ({self.name}); it is not read. Save the sheet as CSV and try "
            f"again. {WHAT_TO_GIVE}"
        )
