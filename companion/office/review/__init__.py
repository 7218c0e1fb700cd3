"""`companion review FOLDER`: many jobs at once. Checks and indexes every log, and says what is to be seen in which."""
from __future__ import annotations

import argparse
import json
from dataclasses import fields

from companion.errors import BadInput, BrokenMachine
from companion.office.findings.kinds import KINDS
from companion.office.review.progress import Shown

EXAMPLES = """examples:
  companion review jobs                                    every log: what was found, worst first
  companion review jobs --finding wrong-cylinder           the jobs with that finding
  companion review jobs --since 2026-10-01 --mechanic AB --severity serious
  companion review jobs --trends                           stages, rates, control charts, parts, comebacks
  companion review jobs --json                             one line a log, with the names of its findings
  companion review s3://depot/jobs --cluster tcp://10.0.0.5:8786

The index lies in office/index in the folder. Only logs that are new or changed are read.

kinds of finding: {kinds}

exit code: 0 every log was looked at, whatever was found; 2 wrong use; 1 the office's own log was changed, shortened or
deleted, or a part of the machine failed"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command line of `companion review`."""
    parser.description = "Check every job log of a folder, and say what a supervisor should see."
    parser.epilog = EXAMPLES.format(kinds="".join(f"\n  {kind.name:26}{kind.says}" for kind in KINDS.values()))
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("folder", metavar="FOLDER", help="the folder of job logs (.jsonl), or any address fsspec can read")
    parser.add_argument("--json", action="store_true", help="one line of JSON for each log, and nothing else")
    parser.add_argument("--trends", action="store_true", help="what shows over many jobs, instead of the jobs")
    wanted = parser.add_argument_group("which jobs")
    wanted.add_argument("--since", default="", metavar="DAY", help="begun on this day or later, such as 2026-10-01")
    wanted.add_argument("--until", default="", metavar="DAY", help="begun on this day or earlier")
    wanted.add_argument("--mechanic", default="", metavar="NAME", help="as signed on")
    wanted.add_argument("--vehicle", default="", metavar="NUMBER", help="the vehicle number, or its last characters")
    wanted.add_argument("--card", default="", metavar="ID", help="the card's id")
    wanted.add_argument("--finding", default="", metavar="NAME", help='a kind of finding, or "any", or "none"')
    wanted.add_argument("--severity", default="", choices=["serious", "fault", "note"], help="with a finding of that weight")
    wanted.add_argument("--text", default="", help="stands in the log's name, or in what a finding says")
    wanted.add_argument("--most", type=int, default=20, metavar="N", help="jobs to list at most (default 20)")
    who = parser.add_argument_group("who works")
    who.add_argument("--workers", type=int, metavar="N", help="processes of this machine (default: one a core)")
    who.add_argument("--index", default="", metavar="FOLDER",
                     help="where the index is kept, for logs that may only be read (default: office/index in the folder)")
    who.add_argument("--cluster", default="", metavar="ADDRESS", help="a dask scheduler, whose workers reach FOLDER too")


def run(args: argparse.Namespace) -> int:
    """Bring the index up to date and tell. Raises BadInput for wrong use, BrokenMachine where the index is spoiled."""
    import duckdb  # late: it is not needed for --help

    try:
        return _told(args)
    except duckdb.Error as error:
        raise BrokenMachine("the index", f"cannot be read: {str(error).splitlines()[0]}", do="Try again; if that does not "
                            "help, remove its folder, office/index: it is made anew from the logs") from None


def _told(args: argparse.Namespace) -> int:
    from companion.office.review.indexing import update
    from companion.office.review.opening import laid, office_log
    from companion.office.review.query import Filters
    from companion.office.review.store import Store

    filters = Filters(**{one.name: getattr(args, one.name) for one in fields(Filters)})
    _check(args, filters)
    logs = Store(args.folder)
    with Shown() as shown:
        new = update(logs, args.workers, args.cluster, shown.progress, args.index)
    office = office_log(logs)
    index = laid(logs, office, args.index)
    code = 0 if office.sound else 1
    if args.json:
        for log, names in index.names(filters):
            print(json.dumps({"log": log, "findings": names}))
        return code
    if args.trends:
        from companion.office.review.telling_trends import tell_trends
        tell_trends(index, filters)
    else:
        from companion.office.review.telling import tell_jobs
        tell_jobs(index, filters, new, args.most)
    return code


def _check(args: argparse.Namespace, filters) -> None:
    from companion.office.review.query import must_be_day
    for name in ("since", "until"):
        must_be_day(f"--{name}", getattr(filters, name))
    if filters.since and filters.until and filters.since > filters.until:
        raise BadInput("--until", f"must be {filters.since} or later, as --since is", filters.until)
    if args.json and args.trends:
        raise BadInput("--json", "goes with the jobs, not with --trends")
    if filters.finding not in ("", "any", "none", *KINDS):
        raise BadInput("--finding", f"must be any, none, or one of {', '.join(KINDS)}", ascii(filters.finding[:40]))
    if args.most < 0:
        raise BadInput("--most", "must be 0 or more", str(args.most))
    if args.workers is not None and args.workers < 1:
        raise BadInput("--workers", "must be 1 or more", str(args.workers))
