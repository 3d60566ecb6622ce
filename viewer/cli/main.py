"""The command line: arguments in, exit code out. Heavy imports stand inside the commands."""

import gc
import os
import sys
import warnings

from cyclopts import App, CycloptsError

from viewer.cli.aim import aim
from viewer.cli.bass import bass
from viewer.cli.commandline import Mistake
from viewer.cli.ending import IN_WORDS, INTERRUPTED, TOLD, Ended, end_tidily
from viewer.cli.export import export
from viewer.cli.files import page, report, stills
from viewer.cli.film import film
from viewer.cli.measured import compare, sweep
from viewer.cli.panels import builds, cutlist, drawings, propose
from viewer.cli.printing import complain, drop_output, open_streams
from viewer.cli.scan import clean
from viewer.cli.scene import check, materials, new, view
from viewer.cli.siting import seats
from viewer.cli.sound import arrivals, decay
from viewer.cli.survey import survey

USER_MISTAKE = 2


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
    clean,
    check,
    view,
    arrivals,
    decay,
    bass,
    aim,
    survey,
    seats,
    sweep,
    compare,
    materials,
    builds,
    propose,
    cutlist,
    drawings,
    report,
    page,
    stills,
    film,
    export,
):
    app.command(command)


def main() -> None:
    """Run the command line; the exit code is 0, 2 for the user's mistakes, 1 for ours."""
    # What imports make stays: looking through it for cycles, again and again and once more when the process
    # ends, takes a sixth of a short run.
    gc.set_threshold(250_000, 50, 100)
    # Matrices here are small: threads that wait for one another take longer than one alone, most on a busy
    # machine.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    open_streams()
    warnings.filterwarnings("ignore", "Glyph .* missing from")  # said in words: typeface_note
    end_tidily()
    code = run(sys.argv[1:])
    gc.freeze()
    sys.exit(code)


def run(tokens: list[str]) -> int:
    """Run one command and return its exit code."""
    try:
        app(tokens, exit_on_error=False, print_error=False, result_action="return_value")
        sys.stdout.flush()
    except CycloptsError as problem:
        text = " ".join(str(problem).split())
        complain(f"hitspot: {text}\nhitspot --help lists commands and options.")
        return USER_MISTAKE
    except Mistake as mistake:
        complain(str(mistake))
        return USER_MISTAKE
    except KeyboardInterrupt as end:
        TOLD.set()
        complain(IN_WORDS)
        return 128 + end.args[0] if isinstance(end, Ended) else INTERRUPTED
    except BrokenPipeError:
        return _unread()
    except SystemExit as end:
        if isinstance(end.__context__, BrokenPipeError):  # what the library for tables makes of one
            return _unread()
        raise
    except OSError as problem:
        return _told(problem)
    return 0


def _told(problem: OSError) -> int:
    """Say what the system refused, where that is no mistake of ours: a name, a place, a full disk."""
    from viewer.files import OUTSIDE

    if problem.errno not in OUTSIDE:
        raise problem
    if problem.filename is None:
        drop_output()
        complain(f"The output cannot be written: {problem.strerror}.")
    else:
        complain(f"{problem.filename}: {problem.strerror}")
    return USER_MISTAKE


def _unread() -> int:
    """Whoever read our output has closed it (a pager, head): that is not a mistake."""
    drop_output()
    return 0
