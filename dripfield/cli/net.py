"""The net under every command: whatever breaks becomes one line and an exit code.

Bad input and a bad environment (no memory, a file or disk that fails) exit with 2, a defect of
dripfield itself with 1, an interruption with 128 and the signal's number. Nothing is printed that
could act on a terminal, and a standard stream that is closed or full changes nothing.
"""

from __future__ import annotations

import contextlib
import errno
import gc
import logging
import os
import signal
import sys
import traceback
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import IO, Any

from dripfield.core import doing
from dripfield.core.errors import DripfieldError, InputError, clean_line

DEFECT = 1
BAD_INPUT = 2
INTERRUPTED = 130
_REPORT = "please report it to the dripfield authors"
_ENDING_SIGNALS = ("SIGTERM", "SIGHUP")
_MEMORY_SHARE = 0.9  # of the machine's memory that a command may take before it is refused more


class Stopped(KeyboardInterrupt):
    """A signal asked the command to end; taken as an interruption from the keyboard is."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number


def answer(problem: BaseException) -> tuple[int, str]:
    """Exit code and message for whatever a command raised.

    Returns
    -------
    code : int
    message : str
        One line without ``error:``; empty for an interruption.
    """
    where = doing.in_words()
    at = f" {where}" if where else ""
    if isinstance(problem, Stopped):
        return 128 + problem.number, ""
    if isinstance(problem, KeyboardInterrupt):
        return INTERRUPTED, ""
    if isinstance(problem, InputError):
        return BAD_INPUT, clean_line(str(problem))
    if isinstance(problem, DripfieldError):
        return BAD_INPUT, clean_line(f"{problem}{'; ' + where if where else ''}")
    if isinstance(problem, MemoryError):
        text = f"the memory did not suffice{at}; thin the input, or use a machine with more memory"
        return BAD_INPUT, clean_line(text)
    if isinstance(problem, RecursionError):
        text = f"the input is nested too deep{at}; write it plainly, or export it again"
        return BAD_INPUT, clean_line(text)
    if isinstance(problem, OSError) and problem.errno is not None:
        return BAD_INPUT, clean_line(_system_refusal(problem, at))
    kind = type(problem).__name__
    text = (
        f"this is a defect of dripfield ({kind}: {clean_line(str(problem), 200)}){at}; "
        f"{_REPORT}, with the input and the file that dripfield --traceback FILE … writes"
    )
    return DEFECT, clean_line(text)


def _system_refusal(problem: OSError, at: str) -> str:
    """What the system refused, of which file, and what to do."""
    name = problem.filename
    file = f"{Path(os.fsdecode(name)).name}: " if isinstance(name, str | bytes) and name else ""
    reason = (problem.strerror or str(problem)).lower()
    if problem.errno in (errno.ENOSPC, errno.EDQUOT):
        remedy = "make room on the disk"
    elif problem.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        remedy = "give yourself permission, or use another folder"
    else:
        remedy = "check the file's name, its folder and its disk"
    return f"{file}the system refused ({reason}){at}; {remedy}"


def write_traceback(problem: BaseException, file: Path) -> str:
    """Write the traceback into a file; the words that say so, or why it could not be."""
    try:
        file.write_text("".join(traceback.format_exception(problem)), encoding="utf-8")
    except OSError as refused:
        return f"the traceback could not be written into {file.name} ({refused.strerror})"
    return f"the traceback is in {file.name}"


@contextlib.contextmanager
def prepared() -> Iterator[None]:
    """Streams, signals and surroundings such that nothing in them can break a command."""
    doing.begin()
    _surroundings()
    stdout, stderr = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = _forgiving(stdout, 1), _forgiving(stderr, 2)
    before = _take_signals()
    notes = logging.StreamHandler(sys.stderr)
    notes.setFormatter(_NoteLine())
    logger = logging.getLogger("dripfield")
    logger.addHandler(notes)
    try:
        yield
    finally:
        logger.removeHandler(notes)
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        sys.stdout, sys.stderr = stdout, stderr
        for number, handler in before.items():
            signal.signal(number, handler)


class _NoteLine(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        return f"note: {clean_line(record.getMessage())}"


def _surroundings() -> None:
    """Settings of libraries that a junk environment must not break or make talk."""
    os.environ["MPLBACKEND"] = "agg"  # nothing is ever shown in a window
    logging.getLogger("matplotlib").setLevel(logging.ERROR)  # a home that cannot be written
    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)


def hold_standard_streams() -> None:
    """Put the null device where standard input, output or error is closed.

    A file opened later would otherwise take its number, and what is printed would go into it.
    """
    for number, mode in ((0, os.O_RDONLY), (1, os.O_WRONLY), (2, os.O_WRONLY)):
        try:
            os.fstat(number)
        except OSError:
            got = os.open(os.devnull, mode)
            if got != number:
                os.dup2(got, number)
                os.close(got)


def collect_seldom() -> None:
    """Look for memory that objects hold in circles once in fifty thousand new ones.

    A command makes hundreds of thousands of small objects that live until its files are written;
    looking through them at Python's own pace takes a tenth of its time.
    """
    gc.set_threshold(50_000, 20, 20)


def bound_memory() -> None:
    """Let the system refuse memory beyond the machine's own, in place of ending the process."""
    try:
        import resource

        whole = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
        soft, hard = resource.getrlimit(resource.RLIMIT_DATA)
        wanted = int(_MEMORY_SHARE * whole)
        if soft == resource.RLIM_INFINITY or soft > wanted:
            resource.setrlimit(resource.RLIMIT_DATA, (wanted, hard))
    except (ImportError, OSError, ValueError, AttributeError):
        return


def _take_signals() -> dict[int, Any]:
    """Have the signals that end a process raise, so that what was begun is taken back."""

    def stop(number: int, _: FrameType | None) -> None:
        raise Stopped(number)

    before: dict[int, Any] = {}
    for name in _ENDING_SIGNALS:
        number = getattr(signal, name, None)
        try:
            if number is not None and signal.getsignal(number) == signal.SIG_DFL:
                before[number] = signal.signal(number, stop)
        except ValueError:  # not in the main thread
            continue
    return before


class _Forgiving:
    """A stream whose reader may go, and whose disk may fill, without anybody noticing."""

    def __init__(self, stream: Any, number: int) -> None:
        self._stream, self._number = stream, number

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        with self._forgiven():
            self._stream.write(text)
        return len(text)

    def writelines(self, lines: Any) -> None:
        for line in lines:
            self.write(line)

    def flush(self) -> None:
        with self._forgiven():
            self._stream.flush()

    @contextlib.contextmanager
    def _forgiven(self) -> Iterator[None]:
        try:
            yield
        except (OSError, ValueError):  # full, or its reader has gone; ValueError: closed
            self._mute()

    def _mute(self) -> None:
        """Send what is still held, and all that follows, nowhere."""
        try:
            if self._stream.fileno() != self._number:
                return
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, self._number)
            os.close(nowhere)
        except (OSError, ValueError, AttributeError):
            return


def _forgiving(stream: IO[str] | None, number: int) -> Any:
    if stream is None:
        stream = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if hasattr(stream, "reconfigure"):
        with contextlib.suppress(OSError, ValueError):
            stream.reconfigure(errors="replace")  # a terminal that is not UTF-8
    return _Forgiving(stream, number)
