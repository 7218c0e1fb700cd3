"""`companion page FOLDER`: the supervisor's page over a folder of job logs, served to this machine alone."""
from __future__ import annotations

import argparse
import sys
from pathlib import Path

from companion.errors import BadInput, BrokenMachine

PORT = 8765
EXAMPLES = f"""examples:
  companion page jobs                 then open http://127.0.0.1:{PORT}/ in a browser of this machine
  companion page jobs --port 0        any free port; the address is printed

Sign-offs, replies and the register of cards go to office/review.jsonl in the folder, each a signed line.
Ctrl-C ends it. exit code: 0 ended, 2 wrong use, 1 a part of the machine failed"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion page`."""
    parser.description = "Serve the supervisor's page to this machine alone: jobs, findings, sign-offs, cards, trends."
    parser.epilog = EXAMPLES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="the folder of job logs (.jsonl), on this machine")
    parser.add_argument("--index", default="", metavar="FOLDER",
                        help="where the index is kept, for logs that may only be read (default: office/index in the folder)")
    parser.add_argument("--port", type=int, default=PORT, metavar="N",
                        help=f"port to answer on (default {PORT}; 0: a free one)")


def run(args: argparse.Namespace) -> int:
    """Look at the folder, then serve until Ctrl-C. Raises BadInput for wrong use."""
    if not 0 <= args.port <= 65535:
        raise BadInput("--port", "must be from 0 to 65535", str(args.port))
    if not args.folder.is_dir():
        raise BadInput(ascii(str(args.folder))[1:-1], "must be a folder of job logs on this machine")
    from companion.edge.device import device_key, wall  # late: none of it is needed for --help
    from companion.office.page.desk import Desk
    from companion.office.page.serve import listening
    from companion.office.review.progress import Shown

    desk = Desk(args.folder, device_key(), wall, apart=args.index)
    with Shown() as shown:
        desk.look(shown.progress)
    try:
        server = listening(desk, args.port)
    except OSError as error:
        raise BrokenMachine(f"port {args.port}", f"cannot be used: {error.strerror}",
                            do="Give another one: --port 0") from None
    print(f"http://127.0.0.1:{server.effective_port}/  (Ctrl-C ends it)", flush=True)
    try:
        server.run()
    finally:
        server.close()
    print(file=sys.stderr)
    return 0
