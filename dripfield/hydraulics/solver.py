"""The EPANET toolkit: a network is solved, or it is said why no number may be believed."""

from __future__ import annotations

import ctypes
import warnings
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.core.errors import NotSolved

_REASONS = (
    ("exceeds maximum flow", "the pump runs beyond the last point of its curve"),
    ("cannot deliver head", "the pump cannot lift the water: its head is below what is needed"),
    ("cannot deliver flow", "the pump runs beyond the last point of its curve"),
    ("disconnected", "a part of the network is cut off"),
    ("negative pressure", "the pressure is below that of the air"),
    ("unbalanced", "the solver did not converge"),
    ("unstable", "the solver did not converge"),
)


@dataclass(frozen=True)
class Solution:
    """What the solver found.

    Attributes
    ----------
    pressure, head, demand : (n,) float array
        At the nodes in the order of the file [psi or kPa, length, gal/min or L/min].
    flow : (m,) float array
        In the links in the order of the file, from first node to second [gal/min or L/min].
    """

    pressure: Floats
    head: Floats
    demand: Floats
    flow: Floats


class Session:
    """A network open in the solver.

    Parameters
    ----------
    text : str
        Of an EPANET input file.
    """

    def __init__(self, text: str) -> None:
        from epanet import toolkit

        self._kit: Any = toolkit
        self._folder = TemporaryDirectory(prefix="dripfield-")
        self._report = Path(self._folder.name) / "net.rpt"
        source = Path(self._folder.name) / "net.inp"
        source.write_text(text, encoding="utf-8")
        self._project: Any = toolkit.createproject()
        self.warned = False
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                toolkit.open(self._project, str(source), str(self._report), "")
                toolkit.openH(self._project)
                toolkit.initH(self._project, 0)
        except Exception as problem:
            self._close()
            raise NotSolved(f"the solver does not take the network ({problem})") from None
        self._nodes = toolkit.getcount(self._project, toolkit.NODECOUNT)
        self._links = toolkit.getcount(self._project, toolkit.LINKCOUNT)

    def __enter__(self) -> Session:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._close()

    def set_throttle(self, name: str, setting: float) -> None:
        """Set the loss coefficient of a valve [velocity heads]."""
        kit = self._kit
        kit.setlinkvalue(
            self._project, kit.getlinkindex(self._project, name), kit.INITSETTING, setting
        )

    def run(self) -> Solution:
        """Solve once, from the flows of the last time.

        Raises
        ------
        NotSolved
            The solver stopped, or gave what is no number.
        """
        kit = self._kit
        with warnings.catch_warnings(record=True) as said:
            warnings.simplefilter("always")
            try:
                kit.initH(self._project, 0)
                kit.runH(self._project)
            except Exception as problem:
                raise NotSolved(f"the solver did not converge ({problem})") from None
        self.warned = bool(said)
        found = Solution(
            self._read(kit.getnodevalues, kit.PRESSURE, self._nodes),
            self._read(kit.getnodevalues, kit.HEAD, self._nodes),
            self._read(kit.getnodevalues, kit.DEMAND, self._nodes),
            self._read(kit.getlinkvalues, kit.FLOW, self._links),
        )
        if not (np.all(np.isfinite(found.head)) and np.all(np.isfinite(found.flow))):
            raise NotSolved("the solver did not converge")
        return found

    def said(self) -> str:
        """Close the network and read why the solver warned; empty where it did not."""
        warned = self.warned
        self._close()
        report = self._report_text
        lines = [line for line in report.splitlines() if "WARNING" in line]
        for line in lines:
            for words, reason in _REASONS:
                if words in line.lower():
                    return reason
        if lines or warned:
            return "the solver did not converge"
        return ""

    def _read(self, call: Any, what: int, count: int) -> Floats:
        """All values of one kind."""
        room = self._kit.doubleArray(count)
        call(self._project, what, room.cast())
        address = int(room.cast())
        view = (ctypes.c_double * count).from_address(address)
        return np.array(view, dtype=np.float64)

    def _close(self) -> None:
        """Leave the solver and take the report along."""
        if self._project is None:
            return
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for call in (self._kit.closeH, self._kit.close):
                try:
                    call(self._project)
                except Exception:  # it was not open
                    continue
            self._kit.deleteproject(self._project)
        self._project = None
        try:
            self._report_text = self._report.read_text(encoding="utf-8", errors="replace")
        except OSError:
            self._report_text = ""
        self._folder.cleanup()


def solve(text: str) -> Solution:
    """Solve a network file.

    Parameters
    ----------
    text : str
        Of an EPANET input file.

    Returns
    -------
    Solution

    Raises
    ------
    NotSolved
        The solver does not take it, did not converge, or warned of anything: a result with a
        warning is never handed on.
    """
    with Session(text) as session:
        found = session.run()
        reason = session.said()
    if reason:
        raise NotSolved(reason)
    return found
