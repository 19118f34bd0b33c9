"""A commented site to start from; its files lie in ``starter_files``."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from dripfield.core.errors import input_error
from dripfield.core.output import staged_output


def page_of_keys() -> str:
    """Every key of ``site.toml`` with its unit, default and bounds, as Markdown."""
    return files("dripfield.site").joinpath("KEYS.md").read_text(encoding="utf-8")


def write_starter(folder: str | Path) -> tuple[str, ...]:
    """Write the starter site into a new or empty folder.

    Parameters
    ----------
    folder : str or Path
        Made when missing, parents too.

    Returns
    -------
    tuple of str
        Names of the files written.

    Raises
    ------
    InputError
        The folder holds something already, is a file, or may not be written.
    """
    folder = Path(folder)
    if folder.is_dir() and any(folder.iterdir()):
        raise input_error("the folder is not empty", "give a new or an empty one", file=folder)
    starter = sorted(
        (entry for entry in files("dripfield.site").joinpath("starter_files").iterdir()),
        key=lambda entry: entry.name,
    )
    with staged_output(folder) as stage:
        for entry in starter:
            (stage / entry.name).write_bytes(entry.read_bytes())
    return tuple(entry.name for entry in starter)
