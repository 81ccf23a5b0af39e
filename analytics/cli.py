"""The command ``wearledger``: whatever happens ends in a sentence and an exit code.

Nothing heavy is imported here, so that a command can be stopped in a sentence from its first instant on.
"""

from __future__ import annotations

import os
import signal
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from types import FrameType

INTERRUPTED = 130
"""Exit code of a command that was stopped with Ctrl-C, as shells know it."""

_asked: list[int] = []
"""Signals that asked this process to stop; libraries may tell an interruption as an error of theirs."""


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 1 refused, 2 wrong usage, 130 stopped with Ctrl-C.

    Parameters
    ----------
    arguments
        Words after the command's name; None = those of the process, which is then ours to end.
    """
    if arguments is None:
        signal.signal(signal.SIGINT, _leave)
    from analytics import command_line

    if arguments is None:
        signal.signal(signal.SIGINT, _stop)
    try:
        chosen = command_line.build_parser().parse_args(arguments)
        code = _run(chosen)
    except KeyboardInterrupt:
        code = _stopped()
    if arguments is None:
        # the work is done or undone by now, and an interruption while the interpreter ends would show its inside
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    return code


def _run(chosen: Namespace) -> int:
    from analytics import command_line

    try:
        return command_line.run(chosen)
    except BrokenPipeError:  # the reader of our output went away, as head does
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115 - lives until exit
        return 0
    except BaseException as error:
        if _asked or isinstance(error, KeyboardInterrupt):
            return _stopped()
        told = command_line.refusal(error, chosen)
        if not told:
            raise
        print(told, file=sys.stderr)
        return 1


def _stopped() -> int:
    print("stopped; nothing is half done, and the same command again does the whole", file=sys.stderr)
    return INTERRUPTED


def _leave(number: int, frame: FrameType | None) -> None:  # noqa: ARG001 - what a signal hands over
    """End at once: nothing has begun, and an import that is interrupted may tell it as an error of its own."""
    os.write(2, b"stopped before anything was done\n")
    os._exit(INTERRUPTED)


def _stop(number: int, frame: FrameType | None) -> None:  # noqa: ARG001 - what a signal hands over
    _asked.append(number)
    raise KeyboardInterrupt
