"""The command line: arguments in, exit code out. Heavy imports stand inside the commands."""

import gc
import sys
from io import TextIOWrapper

from cyclopts import App, CycloptsError

from viewer.cli.commandline import Mistake
from viewer.cli.files import page, report, stills
from viewer.cli.panels import builds, cutlist, drawings, propose
from viewer.cli.scene import check, materials, new, view
from viewer.cli.sound import arrivals, decay

USER_MISTAKE = 2
INTERRUPTED = 130


def _version() -> str:
    from importlib.metadata import version

    return version("hitspot")


app = App(
    name="hitspot",
    version=_version,
    suppress_keyboard_interrupt=False,
    help="Where early reflections land in a small room, and what reaches the seat.",
    help_format="plaintext",
    version_flags=["--version"],
)
for command in (
    new,
    check,
    view,
    arrivals,
    decay,
    materials,
    builds,
    propose,
    cutlist,
    drawings,
    report,
    page,
    stills,
):
    app.command(command)


def main() -> None:
    """Run the command line; the exit code is 0, 2 for the user's mistakes, 1 for ours."""
    # What imports make stays: looking through it for cycles, again and again and once more when the process
    # ends, takes a sixth of a short run.
    gc.set_threshold(250_000, 50, 100)
    if isinstance(sys.stdout, TextIOWrapper):
        # Names of files may hold bytes that are no text, and a terminal may not know every sign.
        sys.stdout.reconfigure(errors="backslashreplace")
    code = run(sys.argv[1:])
    gc.freeze()
    sys.exit(code)


def run(tokens: list[str]) -> int:
    """Run one command and return its exit code."""
    try:
        app(tokens, exit_on_error=False, print_error=False, result_action="return_value")
    except CycloptsError as problem:
        text = " ".join(str(problem).split())
        sys.stderr.write(f"hitspot: {text}\nhitspot --help lists commands and options.\n")
        return USER_MISTAKE
    except Mistake as mistake:
        sys.stderr.write(f"{mistake}\n")
        return USER_MISTAKE
    except KeyboardInterrupt:
        sys.stderr.write("Interrupted; nothing was written.\n")
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has closed it (a pager, head): that is not a mistake.
        sys.stderr.close()
        return 0
    return 0
