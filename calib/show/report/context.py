"""What a section of the report is made from: the rig, the records, and captures read from disk."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from calib.checks.file.standing import Evidence
from calib.errors import NoDataError
from calib.show.report.markup import Markup, element
from calib.store.capture import Capture, read_capture
from calib.store.documents.finding import CaptureRef, Document


@dataclass
class Context:
    """The folder and what is on file in it; hands out a name for each drawing.

    Attributes:
        folder: Where records and captures lie.
        evidence: Rig, records and time.
    """

    folder: Path
    evidence: Evidence
    _names: int = 0
    _captures: dict[str, Capture | str] = field(default_factory=dict)

    def drawing_name(self) -> str:
        """A name that no other drawing of the page has."""
        self._names += 1
        return f"d{self._names}"

    def capture(self, document: Document) -> Capture | str:
        """The capture that a document was made from, or a sentence that says why there is none."""
        ref = document.capture
        if ref is None:
            return "No capture belongs to this record."
        if ref.sha256 not in self._captures:
            self._captures[ref.sha256] = self._read(ref)
        return self._captures[ref.sha256]

    def _read(self, ref: CaptureRef) -> Capture | str:
        """The capture where it was, or by its name in captures/ of a folder that was moved."""
        named = Path(ref.path)
        places = (named, self.folder / named, self.folder / "captures" / ref.name)
        path = next((place for place in places if place.is_file()), None)
        if path is None:
            return f"The capture {ref.name} is no longer on disk, so its signal is not drawn."
        try:
            capture = read_capture(path)
        except NoDataError as error:
            return f"{error.what} Its signal is not drawn."
        if capture.sha256 != ref.sha256:
            return f"The capture {ref.name} was changed after it was judged; it is not drawn."
        return capture


def missing(why: str) -> Markup:
    """What stands in place of a drawing that cannot be made."""
    return element("p", why, class_="missing")
