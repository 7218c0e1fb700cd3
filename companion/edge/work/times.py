"""What labour costs."""
from __future__ import annotations

import argparse

from companion.core.saying import in_words
from companion.edge.work.answer import Answer, digits, shown, spoken, typed
from companion.edge.work.asked import Command, number, number_in
from companion.trade import times
from companion.trade.units import resolve


def _time_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("time", help='minutes worked, or with a unit, such as "1.5 h"')
    parser.add_argument("--rate", required=True, help="money for an hour")
    parser.add_argument("--step", required=True, metavar="MINUTES", help="every started step of so long is charged")


def _time(args: argparse.Namespace) -> Answer:
    minutes, step = number_in(args.time, "time", "min"), number_in(args.step, "--step", "min")
    rate = number(args.rate, "--rate")
    charged, cost = times.charged(minutes, step), times.labour(minutes, rate, step)
    coins = f"{resolve(cost, 2):f}"
    return Answer(digits(cost), "", f"charged minutes · rate/60 = {shown(charged)}·{typed(rate)}/60",
                  "definition (computed); charging in started steps is common practice, no source",
                  (f"Charge {coins} for {shown(charged, 'min')}.",),
                  f"Charge {in_words(coins.removesuffix('.00'))} for {spoken(charged, 'min')}.",
                  {"charged_minutes": charged})


COMMANDS = (
    Command("time", "what labour costs, in started steps", ("companion work time 95 --rate 60 --step 15",
                                                           'companion work time "1.5 h" --rate 72.50 --step 6'),
            _time_arguments, _time),
)
