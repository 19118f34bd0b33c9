"""What the commands share: arguments, exit codes, where they may write, the sign of progress."""

from __future__ import annotations

import inspect
import io
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from dripfield.core.doing import doing
from dripfield.core.output import staged_output
from dripfield.files.register import in_words

if TYPE_CHECKING:
    from rich.console import RenderableType

    from dripfield.site.model import Site

MISSED_TOLERANCE = 3  # with --strict; the files are written
_QUIET = 1.0  # seconds of work without a sign on a terminal
_QUIET_PIPE = 3.0  # and in a pipe, where a short run says nothing
SAYS_NO = 4  # a check or comparison ran and the answer is no; the files are written

_F = TypeVar("_F", bound=Callable[..., Any])


def subcommand(*, example: str) -> Callable[[Callable[..., Any]], click.Command]:
    """``click.command`` with ``-h`` and an example under its help; name the result ``command``.

    ``FILES`` in the function's docstring stands for the files that the register has for it.
    """

    def command(function: Callable[..., Any]) -> click.Command:
        name = function.__module__.rpartition(".")[2].replace("_", "-")
        words = inspect.cleandoc(function.__doc__ or "").replace("FILES", in_words(name))
        return click.command(
            help=words,
            epilog=f"Example: {example}",
            context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
        )(function)

    return command


class NamedPath(click.Path):
    """A path that says something: an empty one, which would mean this folder, is refused."""

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The path; refuses an empty name and one that no system takes.

        Parameters
        ----------
        value : Any
            As typed.
        param : click.Parameter or None
        ctx : click.Context or None

        Returns
        -------
        Path
        """
        if not str(value).strip() or "\0" in str(value):
            self.fail("it is empty; give a folder or file by name, . for this one", param, ctx)
        return super().convert(value, param, ctx)


def site_argument(function: _F) -> _F:
    """``SITE``: the site folder, passed as ``site_folder``."""
    return click.argument("site_folder", metavar="SITE", type=NamedPath())(function)


def out_option(function: _F) -> _F:
    """``--out DIR``: passed as ``out``."""
    return click.option(
        "--out",
        "out",
        metavar="DIR",
        required=True,
        type=NamedPath(),
        help="Folder to write into; made when missing. Its other files are kept.",
    )(function)


def strict_option(function: _F) -> _F:
    """``--strict``: passed as ``strict``."""
    return click.option(
        "--strict", is_flag=True, help="Exit with 3 when a tolerance is missed (files are written)."
    )(function)


def output_for(site: Site, out: Path) -> AbstractContextManager[Path]:
    """A staged folder for a site's files that never replaces the site's own inputs."""
    from dripfield.site.reader import input_files

    return staged_output(out, protect=input_files(site))


def leave(code: int) -> None:
    """End the command with an exit code."""
    click.get_current_context().exit(code)


def show(parts: Iterable[RenderableType]) -> None:
    """Print rich text and tables on standard output: plain and 80 columns wide when piped.

    That the reader of a pipe has gone is no failure: what a command writes is in its files.
    """
    from rich.console import Console

    piped = not sys.stdout.isatty()
    page = io.TextIOWrapper(io.BytesIO(), encoding=sys.stdout.encoding, errors="replace")
    screen = Console(
        file=page if piped else sys.stdout,
        width=80 if piped else None,
        color_system=None if piped else "auto",
        highlight=False,
        emoji=False,
        markup=False,
    )
    for part in parts:
        screen.print(part)
    page.seek(0)
    sys.stdout.writelines(line.rstrip() + "\n" for line in page)
    sys.stdout.flush()


@contextmanager
def working(text: str) -> Iterator[Callable[[str], None]]:
    """Show that work goes on, once it has taken more than a second: a line that changes on a
    terminal, a line for each thing found where standard error is a pipe or a file.

    Parameters
    ----------
    text : str
        What is being done.

    Yields
    ------
    callable
        To be told in a few words what was found.
    """
    start = time.monotonic()

    def say(found: str) -> None:
        if time.monotonic() - start > _QUIET_PIPE:
            click.echo(f"{text}: {found}", err=True)

    with doing(text):
        if sys.stderr.isatty():
            with _status(text) as tell:
                yield tell
        else:
            yield say


@contextmanager
def _status(text: str) -> Iterator[Callable[[str], None]]:
    """A line on the terminal that shows what was told last."""
    done = threading.Event()
    latest = [text]

    def show() -> None:
        if done.wait(_QUIET):
            return
        from rich.console import Console

        with Console(stderr=True).status(latest[0]) as status:
            while not done.wait(0.1):
                status.update(latest[0])

    def tell(found: str) -> None:
        latest[0] = f"{text}: {found}"

    thread = threading.Thread(target=show, daemon=True)
    thread.start()
    try:
        yield tell
    finally:
        done.set()
        thread.join()
