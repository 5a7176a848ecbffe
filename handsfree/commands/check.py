"""`handsfree check`: test this machine, and name a remedy for each fault."""

from __future__ import annotations

import argparse

from handsfree.commands.options import DONE
from handsfree.doctor import run_probes, table_of
from handsfree.visible import for_terminal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree check`."""
    parser.add_argument("--listen", action="store_true", help="try loudspeaker and microphone with your help")
    parser.add_argument("--device", metavar="NAME", help="microphone: number or part of its name")
    parser.add_argument("--output", metavar="NAME", help="loudspeaker: number or part of its name")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the results, or try the loudspeaker and the microphone."""
    if options.listen:
        from handsfree.live.takes import run_listen_check  # here: the table needs no device's package

        run_listen_check(options.device, options.output, lambda line: print(for_terminal(line), flush=True))
    else:
        print(for_terminal(table_of(run_probes())))
    return DONE
