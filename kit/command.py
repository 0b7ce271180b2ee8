"""What is at the edge of every command: arguments come in, lines and an exit code go out.

Exit codes: 0 done, 1 the lesson has errors (or the work was stopped), 2 wrong usage. What
is printed is plain (`kit.terminal`), whatever was typed or stands in a file.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any, TypeVar

import click

from kit.errors import KitError, LessonError
from kit.reading import from_os_error, is_path_text
from kit.terminal import echo, echo_fault, plain

__all__ = ["PathArgument", "PlainGroup", "complain", "sentences"]

F = TypeVar("F", bound=Callable[..., None])
_HELP = getattr(click.exceptions, "NoArgsIsHelpError", ())
"""A command without arguments, which newer versions of click answer with its help."""


class PathArgument(click.Path):
    """A path as an argument, given as `pathlib.Path`."""

    def __init__(self, **wishes: Any) -> None:
        super().__init__(path_type=Path, **wishes)

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Refuse what no path can be, which the system would not take either."""
        if not is_path_text(str(value)):
            raise LessonError(
                f'"{value}" cannot be the name of a file or folder',
                remedy="take out the sign that no name can have",
            )
        return super().convert(value, param, ctx)


class PlainGroup(click.Group):
    """A command that shows whoever calls it nothing but plain lines."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run; wrong usage is told here, because it quotes what was typed."""
        sys.excepthook = echo_fault
        try:
            return super().main(*args, **kwargs | {"standalone_mode": False})
        except click.UsageError as error:
            if not isinstance(error, _HELP):
                error = click.UsageError(plain(error.format_message()), error.ctx)
            error.show()
            sys.exit(error.exit_code)
        except click.ClickException as error:
            echo(f"Error: {error.format_message()}", err=True)
            sys.exit(error.exit_code)
        except KitError as error:
            complain(error)
            sys.exit(1)
        except click.Abort:
            echo("kit: stopped.", err=True)
            sys.exit(1)


def sentences(command: F) -> F:
    """Turn our errors, and a stop by Ctrl-C, into a sentence and exit code 1."""

    @wraps(command)
    def run(*args: object, **kwargs: object) -> None:
        try:
            command(*args, **kwargs)
        except KitError as error:
            complain(error)
            sys.exit(1)
        except KeyboardInterrupt:
            echo("kit: stopped; the last good output is untouched.", err=True)
            sys.exit(1)
        except OSError as error:
            complain(from_os_error(error))
            sys.exit(1)

    return run  # type: ignore[return-value]


def complain(error: KitError) -> None:
    """Print an error, and what was found with it, a line each."""
    for sentence in (str(error), *error.more):
        echo(f"kit: {sentence.removeprefix('error: ')}", err=True)
