"""What a review of the built-in case finds and writes, made once in a run for all tests that only look at it."""

from pathlib import Path
from tempfile import TemporaryDirectory

import rimmodel as rm
from rimmodel.verdict.records import measure_records
from rimmodel.verdict.result import Review
from tests.once import once


def example_review() -> Review:
    return once("review of the built-in case", lambda: rm.review(rm.example_case()))


def example_measured():
    """Records of the built-in case and what they show."""
    return once("records of the built-in case", lambda: measure_records(rm.example_case()))


def write_example(folder: Path) -> None:
    """Put the files of the review into a new folder."""
    for name, content in once("files of the built-in case", _files).items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)


def _files() -> dict[str, bytes]:
    with TemporaryDirectory() as place:
        example_review().write(place)
        return {str(path.relative_to(place)): path.read_bytes() for path in Path(place).rglob("*") if path.is_file()}
