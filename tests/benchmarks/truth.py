"""Truth beside the cheap form: usable shares against worlds drawn station by station, and what they cost.

python -m tests.benchmarks.truth prints every range.
"""

from __future__ import annotations

from functools import cache

from spurplan.responses.asking import Settings
from spurplan.responses.engine import respond
from spurplan.responses.listening.arrivals import Dials
from spurplan.responses.listening.share import shares
from spurplan.responses.listening.worlds import Worlds, shipped_spreads
from tests.benchmarks.figures import Alone, Times, figure
from tests.benchmarks.measuring import medians_s
from tests.truth_cases import CASES, SETTINGS, WORLDS, Compared, compared

OF_ALL = f"{len(CASES)} ranges, against {WORLDS:,} worlds drawn station by station"


@cache
def every() -> tuple[Compared, ...]:
    return tuple(compared(case) for case in CASES)


@figure(f"truth beside the cheap form: greatest error of the usable share, {OF_ALL}", wanted="0.03")
def worst_share() -> Alone:
    worst = max(every(), key=lambda both: abs(both.share_error))
    return Alone(f"{abs(worst.share_error):.3f}")


@figure("greatest error of the 10 and 90 % ends where no single emission decides")
def worst_ends() -> Alone:
    free = [both for both in every() if not both.decided]
    return Alone(f"{max(abs(end) for both in free for end in both.ends_error):.3f}")


@figure("greatest error of the ends where one emission decides, and no interval is said")
def worst_decided() -> Alone:
    decided = [both for both in every() if both.decided]
    return Alone(f"{max(abs(end) for both in decided for end in both.ends_error):.3f}")


@figure(
    "usable share, its interval and the share with everybody, 11-30 MHz, 1,000 settings",
    "lines, join, levels and grades",
    "at most 5 times as long",
)
def both_figures() -> Times:
    case = CASES[3]
    chains, air, settings = case.chains(), case.air(), Settings()
    dials = Dials(chains.low_hz, chains.high_hz, SETTINGS)
    times = medians_s(
        {
            "shares": lambda: shares(chains, air, settings, dials, Worlds(), shipped_spreads()),
            "engine": lambda: respond(chains, air.occupants, settings),
        }
    )
    return Times(times["shares"], times["engine"])


def main() -> None:
    print("| range | drawn | 10 to 90 % | cheap | 10 to 90 % | error | ends | one decides |")
    print("| --- | --: | --- | --: | --- | --: | --- | --- |")
    for both in every():
        low, high = both.drawn.interval()
        ends = [float(end[0]) for end in both.cheap.interval()]
        off = " ".join(f"{end:+.3f}" for end in both.ends_error)
        print(
            f"| {both.case.name} | {both.drawn.mean:.3f} ± {both.drawn.error:.3f} | {low:.3f} to {high:.3f} "
            f"| {float(both.cheap.usable[0]):.3f} | {ends[0]:.3f} to {ends[1]:.3f} "
            f"| {both.share_error:+.3f} | {off} | {'yes' if both.decided else ''} |"
        )


if __name__ == "__main__":
    main()
