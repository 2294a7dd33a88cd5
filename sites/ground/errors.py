"""How the ground says that something cannot be used."""

from __future__ import annotations


class GroundError(ValueError):
    """What is wrong and how to mend it, and where.

    `asks` names what the caller may answer and try again with: `projection`, `latitude_first`; else empty.
    """

    def __init__(self, words: str, place: str = "", asks: str = "") -> None:
        super().__init__(f"{place}: {words}" if place else words)
        self.words, self.place, self.asks = words, place, asks


class GroundFileError(GroundError):
    """The same of a file, with its name."""

    def __init__(self, file: str, words: str, place: str = "", asks: str = "") -> None:
        super().__init__(words, ", ".join(filter(None, (file, place))), asks)
        self.file, self.place = file, place
