"""The group of commands: loads them lazily and turns every refusal into one line."""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from dripfield.cli.net import (
    BAD_INPUT,
    answer,
    bound_memory,
    collect_seldom,
    hold_standard_streams,
    prepared,
    write_traceback,
)
from dripfield.core.errors import clean_line


class CommandTable(click.Group):
    """Commands by name with their one-line help; each lives in ``dripfield.cli.<name>``.

    A command module has a click command named ``command``. A name whose module is not there is not
    listed and not known.

    Parameters
    ----------
    name : str
    help : str
        One line.
    commands : mapping of str to str
        Each command's one-line help.
    """

    def __init__(self, name: str, help: str, commands: Mapping[str, str]) -> None:
        super().__init__(
            name=name,
            help=help,
            epilog="Start with: dripfield new my-site, then dripfield layout my-site --out out",
            invoke_without_command=True,
            callback=_show_help,
            params=[_version_option(), _traceback_option()],
            context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
        )
        self.one_liners = dict(commands)
        self.traceback_file: Path | None = None

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands whose modules are there, in the order of the table."""
        return [name for name in self.one_liners if importlib.util.find_spec(_module(name))]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        if cmd_name not in self.list_commands(ctx):
            return None
        command: click.Command = importlib.import_module(_module(cmd_name)).command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        rows = [(name, self.one_liners[name]) for name in self.list_commands(ctx)]
        with formatter.section("Commands"):
            formatter.write_dl(rows)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find a command, or refuse with those there are."""
        name = args[0]
        if self.get_command(ctx, name) is None and not name.startswith("-"):
            known = ", ".join(self.list_commands(ctx))
            raise click.UsageError(f"there is no command {name[:60]!r}; give one of {known}")
        return super().resolve_command(ctx, args)

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> Any:
        """Run a command line and exit: 0, 2 with one ``error:`` line, or what the command says.

        Parameters
        ----------
        args : sequence of str, optional
            Those of the process unless given.
        prog_name, complete_var : str, optional
        standalone_mode, windows_expand_args : bool
        **extra
            As click takes them.

        Returns
        -------
        Any
            What the command returned, where it does not exit.
        """
        if args is None:  # a process of our own
            hold_standard_streams()
            bound_memory()
            collect_seldom()
        with prepared():
            code, message = self._run(
                args,
                prog_name or self.name,
                complete_var,
                standalone_mode=False,
                windows_expand_args=windows_expand_args,
                **extra,
            )
            if message:
                print(f"error: {message}", file=sys.stderr)
        sys.exit(code)

    def _run(self, *args: Any, **extra: Any) -> tuple[int, str]:
        """Exit code and the line to print, empty where there is none."""
        try:
            code = super().main(*args, **extra)
        except click.ClickException as problem:
            return BAD_INPUT, clean_line(_in_words(problem))
        except click.Abort as problem:
            return answer(problem.__context__ or KeyboardInterrupt())
        except BaseException as problem:  # the net: what nobody foresaw
            code, message = answer(problem)
            if self.traceback_file is not None:
                message = f"{message}; {write_traceback(problem, self.traceback_file)}"
            return code, message
        return code if isinstance(code, int) else 0, ""


def _module(name: str) -> str:
    return f"dripfield.cli.{name.replace('-', '_')}"


def _in_words(problem: click.ClickException) -> str:
    """A usage error of click as problem; remedy."""
    message = problem.format_message().strip().rstrip(".")
    message = message[:1].lower() + message[1:]
    if isinstance(problem, click.UsageError) and problem.ctx is not None and ";" not in message:
        message += f"; see {problem.ctx.command_path} --help"
    return message


@click.pass_context
def _show_help(ctx: click.Context) -> None:
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def _version_option() -> click.Option:
    def show(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
        if wanted and not ctx.resilient_parsing:
            from dripfield.core.version import __version__

            click.echo(f"dripfield {__version__}")
            ctx.exit()

    return click.Option(
        ["--version"],
        is_flag=True,
        expose_value=False,
        is_eager=True,
        callback=show,
        help="Show the version and exit.",
    )


def _traceback_option() -> click.Option:
    def keep(ctx: click.Context, _: click.Parameter, file: Path | None) -> None:
        if isinstance(ctx.command, CommandTable):
            ctx.command.traceback_file = file

    return click.Option(
        ["--traceback"],
        metavar="FILE",
        type=click.Path(path_type=Path, dir_okay=False),
        expose_value=False,
        callback=keep,
        help="Where the command breaks, write how into FILE, for a report.",
    )
