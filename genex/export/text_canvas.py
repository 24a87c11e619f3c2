"""Rows of characters to write into, as a tab is drawn."""

from __future__ import annotations


class TextCanvas:
    """``count`` rows of ``width`` characters, all of them ``fill`` at first, that grow to the right."""

    def __init__(self, count: int, fill: str, width: int) -> None:
        self.rows = [[fill] * width for _ in range(count)]
        self.fill = fill

    def put(self, row: int, column: int, text: str) -> None:
        """Write a text over what stands there."""
        if not text:
            return
        line = self.rows[row]
        line += [self.fill] * (column + len(text) - len(line))
        line[column : column + len(text)] = text

    def text(self, row: int) -> str:
        """A row as it stands."""
        return "".join(self.rows[row])

    @property
    def is_blank(self) -> bool:
        """Whether nothing has been written."""
        return all(row.count(self.fill) == len(row) for row in self.rows)
