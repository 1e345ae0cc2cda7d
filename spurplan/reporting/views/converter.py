"""How the choice of a crystal reads for people: the best in a sentence, the others below it, and why."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from spurplan.columns import Answer, Coded, Table
from spurplan.planning.converter.findings import Candidate, Findings
from spurplan.reporting.layout import Layout, Show, View
from spurplan.reporting.views import intrusions
from spurplan.responses.assumptions import NEED_A_BFO
from spurplan.responses.folding import fold
from spurplan.responses.listening.findings import HARDLY_LISTED, listed_alone_said
from spurplan.units import decimal_text, hz_text, share_span_text, share_text

# Reasons are told of so many candidates; csv and json have those of all.
REASONED = 5
# What cannot be told from the best is named so far.
NAMED = 3
_IN_POINTS = ("spread_khz_mm", "drift_hz")
CANDIDATES: Layout = (
    Show("Rank", ("rank",)),
    Show("Crystal", ("crystal_hz",), mhz=True, key="first"),
    Show("Times", ("multiplier",), 1),
    Show("How to read the dial", ("dial_rule",), comfort=14),
    Show("Range", ("range",)),
    Show("Usable", ("usable_share",)),
    Show("Scale", ("spread_khz_mm",), 2, places=0),
    Show("Drift", ("drift_hz",), 2, near=True),
    Show("Impurity", ("impurity_db",), 3, places=0),
    Show("Points", ("points",), 1, places=0),
    Show("Tunable IF", ("set_low_hz", "set_high_hz"), 3, mhz=True),
    intrusions.UNKNOWN_SHARE,
    intrusions.UNLISTED_SHARE,
    Show("Image", ("image_rejection_db",), 4, places=0),
    Show("2nd image", ("second_image_rejection_db",), 4, places=0),
    Show("Nothing heard", ("unheard_share",), 5),
    Show("Worst intruder", ("worst_label",), 5),
    Show("Margin", ("worst_margin_db",), places=0),
    Show("Whistles", ("whistles",), 8),
    Show("Birdies", ("birdies",), 6),
    Show("Lost", ("lost_hz",), 7),
    Show("Dial error", ("reading_error_hz",), 9),
    Show("Straight in", ("straight_in_label",), 10),
)
WAYS_IN: Layout = (
    Show("Response", ("response",)),
    Show("From", ("rf_low_hz", "rf_high_hz"), near=True),
    Show("Rejection", ("rejection_db",), places=0),
    Show("Loudest there", ("label",)),
    Show("Heard", ("heard_dbm",), 2, places=0),
    Show("Grade", ("grade",), key="every"),
    Show("Equation", ("equation",), 3),
)
BIRDIES: Layout = (
    Show("Heard on", ("exact_dial_hz",), near=True),
    Show("Set's dial", ("set_dial_hz",), near=True),
    Show("What it is", ("what",)),
    Show("Equation", ("equation",), 1),
)


def view(answer: Answer, receiver: str = "") -> View:
    """Return what people see of the choice of a crystal.

    Parameters
    ----------
    receiver : str. The way of the signal through the set, a line a range.
    """
    findings: Findings = answer.findings
    explain = findings.question.about is not None
    several = len(findings.question.covers) > 1
    tables: dict[str, Table] = {}
    for name in ("candidates", "ways_in", "birdies", "intrusions"):
        if name in answer.tables:
            tables[name] = answer.tables[name]
    listed, remarks = findings.listed, []
    if not explain:
        if several:
            # the best for each cover first, then the second best
            listed = listed[np.argsort(findings.ranking.rank[listed], kind="stable")]
        less = len(tables["candidates"]) - len(listed)
        if less:
            remarks = [
                f"{less:,} more inject the same as one listed, from a lower crystal; csv and json have them."
            ]
        tables["candidates"] = tables["candidates"].take(listed)
    if "intrusions" in tables:
        tables["intrusions"], _ = fold(tables["intrusions"])
    tables["candidates"] = _with_losses(tables["candidates"], findings.question.tune)
    layouts: dict[str, Layout] = {
        "candidates": _worth_showing(tables["candidates"], several),
        "ways_in": WAYS_IN, "birdies": BIRDIES,
    }  # fmt: skip
    if "intrusions" in tables:
        layouts["intrusions"] = intrusions.columns_of(tables["intrusions"])
    heading = [f"{answer.receiver}: a converter for {_covers(findings)}", *summary(findings)]
    receiver_asked = findings.question.receiver
    if receiver_asked.bfo is None and receiver_asked.mode in NEED_A_BFO:
        heading.append(f"The set needs a BFO for {receiver_asked.mode}: its file has none.")
    if several:
        heading += _one_for_all(findings)
    reasoned = listed if explain else listed[:REASONED]
    why = _why([findings.candidate(number) for number in reasoned.tolist()])
    built = tables["candidates"].take(np.flatnonzero(tables["candidates"]["side"] != "alone"))
    losing = np.asarray(built["lost_hz"]) > 0
    if losing.any() and not losing.all() and not explain:
        remarks.append("What does not put the whole cover on the dial stands last, whatever its points.")
    remarks += _orders(findings)
    described = tuple(receiver.splitlines())
    return View(tuple(heading), tables, layouts, described, (*remarks, *why))


def _covers(findings: Findings) -> str:
    return ", ".join(f"{_mhz(low)}-{_mhz(high)} MHz" for low, high in findings.question.covers)


def summary(findings: Findings) -> list[str]:
    """Return the candidate to build for each cover in a few sentences."""
    out = []
    for (low, high), best in findings.per_cover():
        span = f"{_mhz(low)}-{_mhz(high)} MHz: " if len(findings.question.covers) > 1 else ""
        if best is None:
            out.append(
                f"{span}No crystal here brings all of it into one range; what each one loses is below."
            )
            continue
        sentences = [_alone_said(findings, best), _elsewhere(findings, best), _crystal(best), _loss(best)]
        sentences += [_usable(best, findings.alone((low, high)), findings.at), _place(findings, best)]
        out.append(span + " ".join(sentence for sentence in sentences if sentence))
    return out


def _elsewhere(findings: Findings, best: Candidate) -> str:
    tune = findings.question.tune
    if tune is None or findings.ranking.in_tune[best.number] or findings.question.about is not None:
        return ""
    return f"No crystal here puts all of it into {_mhz(tune[0])}-{_mhz(tune[1])} MHz; the best otherwise:"


def _crystal(best: Candidate) -> str:
    used = "for the sum" if best.side == "sum" else best.side
    assert best.set_low_hz is not None, "it goes into a range"
    assert best.set_high_hz is not None, "it goes into a range"
    return (
        f"Number {best.rank}: crystal {best.crystal_text}, {used}, into range "
        f"{best.range} at {_mhz(best.set_low_hz)}-{_mhz(best.set_high_hz)} MHz; {best.dial_rule}."
    )


def _loss(best: Candidate) -> str:
    return f"It loses {hz_text(best.lost_hz)} of that." if best.lost_hz else ""


def _usable(best: Candidate, alone: tuple[Candidate, ...], at: str) -> str:
    assert best.usable_share is not None, "it goes into a range"
    assert best.usable_low is not None, "it goes into a range"
    assert best.usable_high is not None, "it goes into a range"
    if best.nobody_tells:
        tells = f"Nobody can tell how much of it is usable: {HARDLY_LISTED}."
        return tells if alone else f"{tells} The set alone does not tune it."
    between = share_span_text(best.usable_low, best.usable_high)
    text = f"{at[0].upper()}{at[1:]} {share_text(best.usable_share)} of it is usable"
    text += f" ({between})" if between else ""
    if best.unknown_share:
        text += f", {share_text(best.unknown_share)} unknown (the tables end before an image)"
    untold = listed_alone_said(best.unlisted_share or 0.0)
    if not alone:
        return _spaced(f"{text}; the set alone does not tune it.", untold)
    first = alone[0]
    assert first.usable_share is not None, "it goes into a range"
    part = f", which tunes {hz_text(first.lost_hz)} less of it" if first.lost_hz else ""
    return _spaced(f"{text}, against {share_text(first.usable_share)} with the set alone{part}.", untold)


def _spaced(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


def _place(findings: Findings, best: Candidate) -> str:
    """Return by what the best won, and what cannot be told from it."""
    if findings.question.about is not None:
        return ""
    sentences = []
    alike, behind = findings.rivals(best)
    if behind and not findings.candidates.alone[[*alike, *findings.before(best)]].any():
        sentences.append(_behind(findings, behind, best))
    alike = [at for at in alike if not findings.candidates.alone[at]]
    if alike:
        named = [_used(findings.candidate(at)) for at in alike[:NAMED]]
        more = len(alike) - len(named)
        others = f" and {more} more" if more else ""
        sentences.append(f"Cannot be told from it: {', '.join(named)}{others}.")
    return " ".join(sentences)


def _alone_said(findings: Findings, best: Candidate) -> str:
    """Return that none of the crystals is worth it, where the set alone is as good, and why."""
    if findings.question.about is not None:
        return ""
    alike, _ = findings.rivals(best)
    before = [at for at in findings.before(best) if findings.candidates.alone[at]]
    as_good = [at for at in alike if findings.candidates.alone[at]]
    if not (before or as_good):
        return ""
    usable = findings.figures.usable_share
    none = "no converter here is worth its building."
    # a listener to speech minds less what comes straight in than one to broadcasts
    if findings.question.receiver.mode == "am" and usable[best.number] < usable[(as_good or before)[0]]:
        none += " That is for AM: --mode ssb or cw asks for those."
    if as_good:
        return f"None of these crystals: the set alone cannot be told from the best of them; {none}"
    points, by = findings.ahead_by(before[0], best)
    with_it, without = (findings.ranking.handling.drift_hz[at] / 1e3 for at in (best.number, before[0]))
    steadier = f", which {with_it:.1f} kHz of drift for {without:.1f} does not make up for"
    return (
        f"None of these crystals: the best is {points:.1f} points behind the set alone, most for {by}"
        f"{steadier if with_it < without else ''}; {none}"
    )


def _behind(findings: Findings, behind: list[int], best: Candidate) -> str:
    """Return by what the best won: against the set alone, or else against the next one."""
    alone = [at for at in behind if findings.candidates.alone[at]]
    other = findings.candidate((alone or behind)[0])
    less, by = findings.behind_by(other.number, best)
    return f"Number {other.rank}, {_used(other)}, is {less:.1f} points behind it, most for {by}."


def _used(candidate: Candidate) -> str:
    return (
        candidate.crystal_text
        if candidate.crystal_hz is None
        else f"{candidate.crystal_text} {candidate.side}"
    )


def _one_for_all(findings: Findings) -> list[str]:
    """Return the crystal that serves every cover in a sentence."""
    serving = findings.for_all_covers()
    if serving is None:
        return ["No crystal here serves for all of them."]
    hz, shares = serving
    usable = " and ".join(map(share_text, shares))
    return [f"One crystal for all: {hz_text(hz)}, {usable} of them usable {findings.at}."]


def _worth_showing(table: Table, several: bool) -> Layout:
    """Return the columns of the candidates without those that say the same of all."""
    idle = set()
    with_crystal = table.take(np.flatnonzero(table["side"] != "alone"))
    for name, nothing in (("multiplier", 1), ("lost_hz", 0), ("whistles", 0)):
        if len(with_crystal) and (with_crystal[name] == nothing).all():
            idle.add(name)
    if "multiplier" in idle:
        idle.add("impurity_db")
    shown = tuple(show for show in CANDIDATES if show.fields[0] not in idle)
    shown = intrusions.with_unknown(shown, table)
    if not several:
        return shown
    # the cover takes the room of what the points say, too
    shown = tuple(replace(show, rank=1) if show.fields[0] in _IN_POINTS else show for show in shown)
    return (shown[0], Show("Cover", ("cover_low_hz", "cover_high_hz"), mhz=True), *shown[1:])


def _with_losses(table: Table, tune: tuple[int, int] | None) -> Table:
    """Return the candidates, what is lost of each beside its range: it must not read like one whole."""
    names = []
    for name, lost, in_tune in zip(
        *(table[field].tolist() for field in ("range", "lost_hz", "in_tune")), strict=True
    ):
        shown = name
        if name is not None and lost:
            shown = f"{name}, less {hz_text(lost)}"
        elif name is not None and tune is not None and not in_tune:
            shown = f"{name}, not in {_mhz(tune[0])}-{_mhz(tune[1])} MHz"
        names.append(shown)
    codes = np.array([-1 if name is None else at for at, name in enumerate(names)], dtype=np.int64)
    return Table(table.name, table.columns, {**table.values, "range": Coded(codes, names)})


def _orders(findings: Findings) -> list[str]:
    """Return how the crystal of the best for each cover is ordered."""
    orders = [findings.order_of(best.number) for _, best in findings.per_cover() if best is not None]
    sentences = [
        order.at_hand_said if order.crystal.at_hand else f"To order: {order.text}"
        for order in orders
        if order is not None
    ]
    return list(dict.fromkeys(f"{text}." for text in sentences))


def _why(candidates: list[Candidate]) -> list[str]:
    """Return the reasons of some candidates, a line each."""
    lines = ["Why:"] if candidates else []
    for candidate in candidates:
        where = "" if candidate.range is None else f", range {candidate.range}"
        reasons = "; ".join(why.text for why in candidate.reasons)
        lines.append(f"- {candidate.rank}. {_used(candidate)}{where}: {reasons}.")
    return lines


def _mhz(hz: int) -> str:
    return decimal_text(hz, 6)
