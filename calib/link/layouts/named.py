"""Layouts in which each value carries its name: pairs, JSON lines, NMEA sentences.

A sample is one round of names: all in one line, or spread over several lines that take turns.
"""

from __future__ import annotations

from dataclasses import replace

from calib.link.layouts.cleaning import LOG_MS_NAME, bare
from calib.link.layouts.dialect import MAX_COLUMNS
from calib.link.layouts.lines import Layout
from calib.link.layouts.rows import Block, Kind, NotARowError, parse_fields, parse_row
from calib.link.layouts.values import Parse, Value


class Named(Layout):
    """Push decoder of lines of named values.

    The names settle at two rounds that agree; from then on a line with another name is rejected,
    and so is a round that a repeated name cuts short.

    Args:
        parse: Reads one line.
        parse_dressed: Reads a line that ``parse`` cannot, without its prefix; ``parse`` where None.
        whole_start: As of every layout.
        xor: As of every layout.
    """

    def __init__(
        self,
        parse: Parse,
        *,
        whole_start: bool,
        xor: bool = False,
        parse_dressed: Parse | None = None,
    ) -> None:
        """Start with nothing held."""
        super().__init__(whole_start=whole_start, xor=xor)
        self._parse = parse
        self._parse_dressed = parse_dressed or parse
        self._stamps: set[str] = set()
        self._units: dict[str, str] = {}
        self._round: dict[str, bytes] = {}
        self._first: dict[str, bytes] | None = None

    def resync(self) -> None:
        """Bytes were lost: what is held is no line, nor is what comes before the next end."""
        super().resync()
        self._round = {}

    def _release(self, block: Block) -> None:
        """Give the one round there was; one that is not whole is dropped."""
        if self.names is None and self._round:
            self._settle([self._first or self._round], block)
        self._describe()  # once more, for what stood only in later lines

    def _take_whole(self, line: bytes, block: Block, *, first: bool) -> Kind | None:
        """Take one line in; the reason where it is no sample."""
        if first:
            return Kind.PARTIAL
        try:
            values = self._values(line)
            parse_row([value.text for value in values if value.text])
        except NotARowError as error:
            return error.kind
        if any(self._units.get(value.name, value.unit) != value.unit for value in values):
            return Kind.TEXT  # the same number in another unit is another number
        self._units |= {value.name: value.unit for value in values if value.text}
        self._stamps |= {value.name for value in values if value.is_stamp}
        self._remark({remark for value in values for remark in value.remarks}, block)
        found = {value.name: value.text for value in values}
        if len(found) < len(values) or len(found) > MAX_COLUMNS:
            return Kind.COLUMNS
        if self.names is not None:
            return self._place(found, self.names, block)
        self._learn(found, block)
        return None

    def _values(self, line: bytes) -> list[Value]:
        """Values of a line, without what a logger may put before them.

        Raises:
            NotARowError: It has none.
        """
        try:
            return self._parse(line)
        except NotARowError as error:
            if error.kind is not Kind.TEXT:
                raise
        bared = bare(line, named=True)
        values = self._parse_dressed(bared.text)
        if bared.lead is not None:
            values.insert(0, Value(bared.lead_name, bared.lead, bared.is_stamp))
        if bared.tail is not None:
            values.append(Value(LOG_MS_NAME, bared.tail))
        values[-1] = replace(values[-1], remarks=values[-1].remarks | bared.remarks)
        return values

    def _learn(self, found: dict[str, bytes], block: Block) -> None:
        """A round ends where a name comes again; two rounds of the same names settle them."""
        if not found.keys() & self._round.keys():
            self._round |= found
            if len(self._round) > MAX_COLUMNS:
                self._round = found
        else:
            self._first, self._round = self._round, found
        if self._first is not None and self._first.keys() == self._round.keys():
            self._settle([self._first, self._round], block)

    def _settle(self, rounds: list[dict[str, bytes]], block: Block) -> None:
        """From here on the names are known."""
        self.names = tuple(rounds[0])
        self.width = len(self.names)
        self._describe()
        for each in rounds:
            self._give(each, block)

    def _describe(self) -> None:
        """Which columns have a unit, and which hold a wall clock, as far as lines have told."""
        columns = list(enumerate(self.names or ()))
        self.units = {place: self._units[name] for place, name in columns if self._units.get(name)}
        self.stamped = frozenset(place for place, name in columns if name in self._stamps)

    def _place(self, found: dict[str, bytes], names: tuple[str, ...], block: Block) -> Kind | None:
        """Add to the round, and give it out when it is whole."""
        if not found.keys() <= set(names):
            return Kind.COLUMNS
        cut_short = bool(found.keys() & self._round.keys())
        self._round = found if cut_short else self._round | found
        if len(self._round) == len(names):
            self._give(self._round, block)
        return Kind.COLUMNS if cut_short else None

    def _give(self, values: dict[str, bytes], block: Block) -> None:
        """One sample, in the settled order."""
        fields = [values[name] for name in self.names or ()]
        block.numbers.extend(parse_fields(fields))
        block.rows.append(b",".join(fields).decode("ascii"))
        self._round = {}
