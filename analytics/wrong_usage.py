"""What is said of words that no command understands: the one that was probably meant, and where to look."""

from __future__ import annotations

import re
from argparse import ArgumentParser
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, ClassVar, NoReturn

if TYPE_CHECKING:
    from argparse import Action

TYPED = re.compile(r"(?:invalid choice: '|unrecognized arguments: )([^'\s=]+)")
"""The first word that was not understood, in the parser's own sentence."""


class Parser(ArgumentParser):
    """A parser of commands that proposes the nearest command or option.

    Attributes
    ----------
    options
        Every option of every command, as typed.
    """

    options: ClassVar[set[str]] = set()

    def add_argument(self, *args: Any, **kwargs: Any) -> Action:  # noqa: ANN401 - handed on
        """Add an argument, and remember the options."""
        self.options.update(name for name in args if str(name).startswith("--"))
        return super().add_argument(*args, **kwargs)

    def error(self, message: str) -> NoReturn:
        """End with exit code 2, saying what was probably meant."""
        super().error(f"{message}{proposal(message, self.options)}\n  next:  {self.prog} --help")


def proposal(message: str, options: set[str]) -> str:
    """Return what was probably meant, as the end of a sentence; empty where nothing is near.

    Parameters
    ----------
    message
        The parser's own sentence; it names the choices, where there are some.
    options
        Options that exist.

    Examples
    --------
    >>> proposal("argument COMMAND: invalid choice: 'lod' (choose from 'load', 'undo')", set())
    '; did you mean load?'
    >>> proposal("unrecognized arguments: --maping m.toml", {"--mapping", "--data"})
    '; did you mean --mapping?'
    """
    typed = TYPED.search(message)
    if not typed:
        return ""
    choices = re.findall(r"[\w-]+", message.partition("choose from")[2]) or sorted(options)
    near = get_close_matches(typed.group(1).lower(), choices, n=1)
    return f"; did you mean {near[0]}?" if near else ""
