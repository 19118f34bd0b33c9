"""Many sites laid out one after the other or side by side; a bad one never stops the rest.

:func:`batch_site` lays out one site and never raises for what is wrong with it, so that it maps
over processes (:func:`run_batch`), or over a cluster (``client.map(batch_site, *columns)``).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict, dataclass
from multiprocessing import get_context
from pathlib import Path

from dripfield.core.errors import DripfieldError, clean_line, input_error
from dripfield.core.output import staged_output
from dripfield.core.table import Table, figures, text
from dripfield.site.reader import SITE_FILE, input_files, read_site

MARK = "batch.json"
"""What a finished site leaves beside its files, so that it is not laid out again."""


@dataclass(frozen=True)
class SiteResult:
    """What became of one site.

    Attributes
    ----------
    site : str
        Its folder, from the folder of all sites.
    status : str
        ``laid out``, ``missed`` (a tolerance, somewhere) or ``failed``.
    message : str
        The one line that says why it failed, else empty.
    laterals : int or None
    tubing : float or None
        Length of all laterals [site unit].
    merit : float or None
    unit : str
        Of ``tubing``.
    """

    site: str
    status: str
    message: str = ""
    laterals: int | None = None
    tubing: float | None = None
    merit: float | None = None
    unit: str = ""


def sites_below(folder: str | Path, out: str | Path) -> list[str]:
    """Names of the site folders below a folder, in order; results in ``out`` are not looked into.

    Parameters
    ----------
    folder, out : str or Path

    Returns
    -------
    list of str
        Relative to the folder, with ``/`` between.

    Raises
    ------
    InputError
        There is none.
    """
    home, away = Path(folder), Path(out).resolve()
    found = (file.parent for file in home.rglob(SITE_FILE) if file.parent != home)
    names = sorted(
        one.relative_to(home).as_posix()
        for one in found
        if away != one.resolve() and away not in one.resolve().parents
    )
    if not names:
        raise input_error(
            "no folder below it holds a site.toml",
            "give the folder that the sites' folders are in",
            file=home,
        )
    return names


def batch_site(folder: str, name: str, out: str) -> SiteResult:
    """Lay out one site of many and write its files into a folder of its name.

    Parameters
    ----------
    folder : str
        Of all sites.
    name : str
        From :func:`sites_below`.
    out : str
        Of all results.

    Returns
    -------
    SiteResult
        As it was before, and nothing done, where the site's files and the program are the same and
        all that was written is still there.
    """
    try:
        return _laid_out(Path(folder) / name, name, Path(out) / name)
    except DripfieldError as problem:
        return SiteResult(name, "failed", clean_line(str(problem)))
    except MemoryError:
        return SiteResult(name, "failed", "the memory did not suffice; thin the input")
    except Exception as problem:
        kind = type(problem).__name__
        words = clean_line(str(problem), 200)
        return SiteResult(name, "failed", f"dripfield itself failed ({kind}: {words})")


def _laid_out(home: Path, name: str, out: Path) -> SiteResult:
    from dripfield.design.lay_out import lay_out
    from dripfield.outputs.layout import write_layout_files

    site = read_site(home)
    digest = _digest(input_files(site))
    if before := _before(out, digest):
        return before
    design = lay_out(site, compare=True)
    result = SiteResult(
        name,
        "missed" if design.missed else "laid out",
        laterals=len(design.layout.laterals),
        tubing=round(design.measured.tubing, site.unit.places),
        merit=round(design.measured.merit, 3),
        unit=site.unit.value,
    )
    with staged_output(out, protect=input_files(site)) as stage:
        files = write_layout_files(design, stage)
        mark = {"inputs": digest, "files": [one.name for one in files], "result": asdict(result)}
        (stage / MARK).write_text(json.dumps(mark, indent=1) + "\n", encoding="utf-8")
    return result


def _digest(files: Sequence[Path]) -> str:
    """Of the program's version and of the names and bytes of files."""
    import dripfield

    digest = hashlib.sha256(dripfield.__version__.encode())
    for file in files:
        with file.open("rb") as stream:
            own = hashlib.file_digest(stream, "sha256").hexdigest()
        digest.update(f"\n{file.name} {own}".encode())
    return digest.hexdigest()


def _before(out: Path, digest: str) -> SiteResult | None:
    """The result of an earlier run on the same inputs, if all its files are there."""
    try:
        mark = json.loads((out / MARK).read_text(encoding="utf-8"))
        if mark["inputs"] == digest and all((out / one).is_file() for one in mark["files"]):
            return SiteResult(**mark["result"])
    except (OSError, ValueError, LookupError, TypeError):
        pass
    return None


def run_batch(
    folder: str | Path, names: Sequence[str], out: str | Path, workers: int
) -> Iterator[SiteResult]:
    """Lay out sites over several processes.

    Parameters
    ----------
    folder : str or Path
    names : sequence of str
        From :func:`sites_below`.
    out : str or Path
    workers : int
        Processes at once.

    Yields
    ------
    SiteResult
        As they come. A site at which a process died is laid out again by itself, so that it takes
        no other with it.
    """
    left = dict.fromkeys(names)
    context = get_context("spawn")
    try:
        with ProcessPoolExecutor(workers, mp_context=context) as pool:
            jobs = {pool.submit(batch_site, str(folder), one, str(out)): one for one in names}
            for job in as_completed(jobs):
                result = job.result()
                del left[jobs[job]]
                yield result
    except BrokenProcessPool:
        for name in list(left):
            try:
                with ProcessPoolExecutor(1, mp_context=context) as pool:
                    yield pool.submit(batch_site, str(folder), name, str(out)).result()
            except BrokenProcessPool:
                words = "its process was ended, by the system for want of memory or by a defect"
                yield SiteResult(name, "failed", words)


def batch_table(results: Sequence[SiteResult]) -> Table:
    """Results as a table, by site.

    Parameters
    ----------
    results : sequence of SiteResult

    Returns
    -------
    Table
    """
    columns = (
        text("site"),
        text("status"),
        text("message"),
        figures("laterals"),
        figures("tubing", 3),
        figures("merit", 3),
        text("unit"),
    )
    rows = [tuple(asdict(one).values()) for one in sorted(results, key=lambda one: one.site)]
    return Table(columns, rows)
