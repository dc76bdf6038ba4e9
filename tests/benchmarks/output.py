"""Where benches and storms write their figures; the folder is made here, so that a fresh clone has it."""

from pathlib import Path

OUT = Path(__file__).parent / "out"


def output(name: str) -> Path:
    """Give the path of a file to write, in a folder that is there."""
    OUT.mkdir(parents=True, exist_ok=True)
    return OUT / name
