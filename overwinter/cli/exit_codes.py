"""What the command says to a script when it ends. Documented in docs/commands.md."""

from enum import IntEnum


class ExitCode(IntEnum):
    """Exit codes of every command."""

    DONE = 0
    TREES_LEFT_OUT = 1
    """A plan was made and written, but some trees have no place in it."""
    BAD_INPUT = 2
    """The folder, the request or an option is wrong; nothing was written."""
    REFUSED = 3
    """The audit refused the plan, or the program itself failed; nothing was written."""
    STOPPED = 130
    """Stopped by hand before there was a plan; nothing was written."""
