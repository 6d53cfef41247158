"""The command line: a thin shell over job files and reports. `docs/command-line.md` tells what it does and how it exits.

Each command is a module; `topend.cli.app` gathers them. Annotations are evaluated in them (no ``from __future__ import
annotations``), because typer reads the options from them.
"""

import os
import sys
from collections.abc import Sequence
from typing import Final

from topend.cli.printing import harmless
from topend.errors import TopendError

__all__ = ["main"]

#: Bad input, of whatever kind.
BAD_INPUT: Final = 2
#: Stopped from the keyboard, as shells have it: 128 + SIGINT.
STOPPED: Final = 130

_NEEDS_EXTRA: Final = "topend: the command line needs the extra 'cli'; install it with: pip install 'topend[cli]'"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and give its exit code: 0, or 2 for bad input, told in one message on stderr.

    Parameters: `arguments` those after the program's name; None for the process's own.
    """
    try:
        import typer
    except ImportError:
        print(_NEEDS_EXTRA, file=sys.stderr)
        return BAD_INPUT
    if hasattr(sys.stdout, "reconfigure"):
        # a terminal without ± shows a stand-in; it does not fail
        sys.stdout.reconfigure(errors="replace")
    if hasattr(sys.stderr, "reconfigure"):
        sys.stderr.reconfigure(errors="replace")
    from topend.cli.app import build_app

    command = typer.main.get_command(build_app())
    try:
        code = command.main(args=None if arguments is None else list(arguments), prog_name="topend", standalone_mode=False)
        sys.stdout.flush()
    except BrokenPipeError:
        # who read from us has had enough; nothing is left to say, not even by the interpreter on its way out
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except SystemExit:
        # so typer ends where the reader of a pipe has gone away while it printed; nothing else exits from within
        return 0
    except (KeyboardInterrupt, typer.Abort):
        return STOPPED
    except TopendError as error:
        return _refuse(str(error))
    except OSError as error:
        return _refuse(f"{error.filename or 'the system'}: {error.strerror or error}")
    except Exception as error:
        # usage errors have one class in each of typer's versions, and these two names in all of them
        told = getattr(error, "format_message", None)
        if told is None:
            raise
        context = getattr(error, "ctx", None)
        where = context.command_path if context is not None else "topend"
        return _refuse(f"{told().rstrip('.')}; see {where} --help")
    return code if isinstance(code, int) else 0


def _refuse(message: str) -> int:
    print(f"topend: {harmless(message)}", file=sys.stderr)
    return BAD_INPUT
