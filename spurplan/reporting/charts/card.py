"""The wall card: one sheet beside the set, where its dial tells the truth, what fools it, how to tell."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.cautions import cautions_of
from spurplan.occupancy.bands import Bands
from spurplan.planning.cures.cures import cures, loss_text
from spurplan.planning.cures.findings import Findings
from spurplan.receiver.description import Receiver
from spurplan.receiver.sentence import span_text
from spurplan.reporting.charts.dial_row import TICK_PT
from spurplan.reporting.charts.labels import Wish, place
from spurplan.reporting.charts.scale import NUMBERED, SHORT, Scale
from spurplan.reporting.charts.sheet import (
    HANG,
    RISE,
    Box,
    Ground,
    Pen,
    Sheet,
    Stroke,
    Words,
    cut,
    dashed,
    paragraph,
    shown,
    text_width,
    wrapped,
)
from spurplan.reporting.charts.short_names import band_name, intruder_name
from spurplan.reporting.charts.strip import MM, frame, lay_fill, lay_strip
from spurplan.reporting.charts.verdicts import KEY_ORDER, MEANING, shares_text, verdict, word_text
from spurplan.reporting.views.intrusions import thin_tables
from spurplan.responses.asking import BandsLike, ReceiverLike, Settings, as_bands, as_receiver, settings_from
from spurplan.responses.assumptions import listed_share
from spurplan.responses.listening.dial_words import CHECK, WORDS, range_word
from spurplan.responses.routes import PRODUCT, moves, pad_db_per_db, response_name, steps_of, wanted_of
from spurplan.responses.turning import TurnedRange, turned_ranges
from spurplan.units import hz_text, s_text, share_text

# with its margin it fits A4 and Letter as it is
WIDTH, HEIGHT, MARGIN = 186 * MM, 252 * MM, 11 * MM
# strips become lower before letters become smaller, then what fits stands on the card [mm]
STRIPS_MM = {1: 30.0, 2: 30.0, 3: 14.0, 4: 8.5, 5: 7.0, 6: 6.0}
MOST_RANGES = 6
TITLE, VERDICT, KEY, NAME, SPAN, WORD, INTRUDER, NUMERAL, RAIL, ENTRY, FOOT = (
    17.0, 12.0, 8.0, 14.0, 10.0, 12.5, 7.5, 10.5, 7.6, 9.0, 6.4,
)  # fmt: skip
ENTRY_LEFT = 25 * MM
# between a name and what stands beside it
GAP = 8.0
RAIL_HEIGHT = 1.3 * MM
# between the name of a band and its word on one line
BESIDE = 3.0
# strips as high as wanted, or less; tiers of the names above and below; whether the word of a band stands
# beside its name and not below it. The first that fits is taken
ROOMS = (
    (1.0, (2, 2), False), (0.85, (2, 2), False), (0.7, (2, 2), False), (0.7, (1, 2), False),
    (0.7, (1, 1), False), (0.6, (1, 1), True), (0.5, (1, 1), True), (0.6, (0, 1), True), (0.5, (0, 1), True),
    (0.4, (0, 1), True), (0.5, (0, 0), True),
)  # fmt: skip
LEAST_RAIL_HZ = 20_000
MOST_VERDICT_LINES = 2
# of a long stretch somebody is named every so often: parts of the range
NAMED_EVERY = 12
# what a band is told in thin letters
BELIEVED = ("believe", "believe, but for a little")
THIN, TICK = Pen(0.5), Pen(0.6)


@dataclass(frozen=True)
class Entry:
    """A paragraph below the dials: its head, and sentences."""

    head: str
    text: str


@dataclass(frozen=True)
class Rail:
    """A band people listen to, and its word. [Hz]"""

    name: str
    low_hz: int
    high_hz: int
    amateur: bool
    word: str


@dataclass(frozen=True)
class Intruder:
    """Who comes in on a stretch of dial, worst first by `weight`. [Hz]"""

    name: str
    dial_hz: int
    weight: float


@dataclass(frozen=True)
class CardRange:
    """One range of a card: the dial in words, who comes in, the bands on it."""

    turned: TurnedRange
    offset_hz: int
    word: str
    intruders: tuple[Intruder, ...]
    rails: tuple[Rail, ...]


@dataclass(frozen=True)
class Card:
    """What a card says.

    Attributes
    ----------
    name : str. The set.
    verdict : str. One sentence that joins the ranges by word.
    ranges : tuple of CardRange.
    entries : tuple of Entry.
    more : int. Ranges that found no room.
    reserve : str. How little its tables tell, in a sentence; "" where they tell nearly all.
    """

    name: str
    verdict: str
    ranges: tuple[CardRange, ...]
    entries: tuple[Entry, ...]
    more: int = 0
    reserve: str = ""


def card(
    receiver: Receiver,
    bands: Bands,
    settings: Settings,
    cure: str = "",
    first: int = 0,
    turned: Sequence[TurnedRange] = (),
) -> Card:
    """Return what the card of a set says.

    Parameters
    ----------
    cure : str. What is recommended, as of `cure_text`; "" for a card that is silent about cures.
    first : int. The range it begins with, where one card does not hold all.
    turned : the ranges as they are turned through, where they are at hand.
    """
    turned = turned or turned_ranges(receiver, bands, settings)
    some = turned[first : first + MOST_RANGES]
    offsets = {range_.name: range_.dial_offset_hz for range_ in receiver.ranges}
    drawn = tuple(
        CardRange(
            turned_range,
            offsets[turned_range.name],
            range_word(turned_range.busy),
            _intruders(turned_range),
            _rails(turned_range),
        )
        for turned_range in some
    )
    entries = [_fools(turned), _how_to_tell(receiver, turned)]
    if cure:
        entries.append(Entry("What to do", cure))
    return Card(
        receiver.name,
        _verdict(drawn),
        drawn,
        tuple(entries),
        len(turned) - first - len(some),
        thin_tables(listed_share(turned[0].response.occupants)),
    )


def cards(
    receiver: Receiver,
    bands: Bands,
    settings: Settings,
    cure: str = "",
    turned: Sequence[TurnedRange] = (),
) -> list[Card]:
    """Return the cards of a set, one for every so many ranges; see `card`."""
    turned = turned or turned_ranges(receiver, bands, settings)
    return [
        card(receiver, bands, settings, cure, first, turned) for first in range(0, len(turned), MOST_RANGES)
    ]


def sheet(card: Card) -> Sheet:
    """Return a card as a sheet, always of one size."""
    # wrapped words need more or less room: the strips give way, then the names
    for squeeze, tiers, beside in ROOMS:
        made = _laid(card, squeeze, tiers, beside)
        if made.height <= HEIGHT:
            break
    made.height = max(made.height, HEIGHT)
    return made


def card_bytes(receiver: ReceiverLike, bands: BandsLike, path: str, **options: Any) -> bytes:
    """Return the card of a set as the picture that the ending of a path asks for.

    Raises
    ------
    Refused  for a bad file, another ending than svg, png or pdf, or when the extra [charts] is missing.
    """
    from spurplan.reporting.charts import ink

    kind = ink.kind_of(path, "--output")
    chosen = settings_from(None, options)
    # boxes stand ahead of the set already when its cures are asked for
    set_, tables, asked = as_receiver(receiver, chosen), as_bands(bands), replace(chosen, ahead=())
    cure = cure_text(cures(set_, bands=tables, settings=asked).findings)
    sheets = [sheet(one) for one in cards(set_, tables, chosen, cure)]
    # of these kinds a file is one page
    return ink.pages(sheets, MARGIN) if kind == "pdf" else ink.picture(sheets[0], kind, MARGIN)


# --- what it says ---------------------------------------------------------------------------------


def _verdict(drawn: Sequence[CardRange]) -> str:
    full, short = verdict([card_range.turned.busy for card_range in drawn])
    return full if len(wrapped(full, VERDICT, WIDTH, True)) <= MOST_VERDICT_LINES else short


def _rails(turned_range: TurnedRange) -> tuple[Rail, ...]:
    """Return the bands of broadcasters and amateurs on a range; rows of one name are one."""
    occupants = turned_range.response.occupants
    wide = occupants.high_hz - occupants.low_hz >= LEAST_RAIL_HZ
    on = (occupants.high_hz >= turned_range.low_hz) & (occupants.low_hz <= turned_range.high_hz)
    ends: dict[tuple[str, bool], list[tuple[int, int]]] = defaultdict(list)
    for k in np.flatnonzero(wide & on & ~occupants.spot).tolist():
        service = occupants.services[int(occupants.service[k])]
        if service in ("broadcast", "amateur"):
            key = band_name(shown(occupants.label_of(k))), service == "amateur"
            ends[key].append((int(occupants.low_hz[k]), int(occupants.high_hz[k])))
    out = []
    for (name, amateur), some in ends.items():
        low = max(min(low for low, _ in some), turned_range.low_hz)
        high = min(max(high for _, high in some), turned_range.high_hz)
        out.append(Rail(name, low, high, amateur, turned_range.pieces.chances(low, high).short_word))
    return tuple(sorted(out, key=lambda rail: rail.low_hz))


def _intruders(turned_range: TurnedRange) -> tuple[Intruder, ...]:
    """Return who comes in loudest on each stretch that is not to be believed, the worst stretch first."""
    response = turned_range.response
    graded, occupants = response.graded, response.occupants
    mine = response.lines.candidate[graded.line] == turned_range.candidate
    low, high = graded.dial_low_hz[mine], graded.dial_high_hz[mine]
    heard, who = graded.heard_dbm[mine], graded.occupant[mine]
    out: dict[str, Intruder] = {}
    for a, b, word in _pieces(turned_range):
        here = np.flatnonzero((low <= b) & (high >= a))
        if not len(here):
            continue
        top = here[np.argmax(heard[here])]
        name = _short_intruder(occupants.label_of(int(who[top])))
        left, right = max(a, int(low[top])), min(b, int(high[top]))
        weight = (word - CHECK + 1) * 10.0 * (right - left) / (turned_range.high_hz - turned_range.low_hz)
        known = out.get(name)
        if known is None or weight > known.weight:
            out[name] = Intruder(name, (left + right) // 2, weight)
    return tuple(sorted(out.values(), key=lambda each: -each.weight))


def _pieces(turned_range: TurnedRange) -> Iterator[tuple[int, int, int]]:
    """Give the stretches that are not to be believed, long ones in pieces: first and last hertz, word."""
    longest = max((turned_range.high_hz - turned_range.low_hz) // NAMED_EVERY, 1)
    words = turned_range.words
    for low, high, word in zip(
        words.low_hz.tolist(), words.high_hz.tolist(), words.word.tolist(), strict=True
    ):
        if WORDS[word] in ("check", "don't"):
            for start in range(low, high + 1, longest):
                yield start, min(start + longest - 1, high), word


def _short_intruder(label: str) -> str:
    return cut(intruder_name(shown(label)), INTRUDER, 40 * MM)


def _most_lost(turned: Sequence[TurnedRange]) -> str | None:
    """Return the way in that takes most of the dial, over all ranges; None where nothing does."""
    lost: dict[str, float] = defaultdict(float)
    for turned_range in turned:
        for loss in turned_range.busy.losses:
            lost[loss.response] += loss.share * (turned_range.high_hz - turned_range.low_hz)
    return max(lost, key=lambda name: lost[name]) if lost else None


def _line_of(turned: Sequence[TurnedRange], response: str) -> tuple[TurnedRange, int] | None:
    """Return the line of a way in that is heard on most of a dial, and its range."""
    best, widest = None, -1
    for turned_range in turned:
        lines, graded = turned_range.response.lines, turned_range.response.graded
        for line in np.unique(graded.line).tolist():
            if lines.candidate[line] != turned_range.candidate:
                continue
            if (
                response_name(
                    steps_of(lines, line), wanted_of(turned_range.response.chains, turned_range.candidate)
                )
                != response
            ):
                continue
            mine = graded.line == line
            width = int((graded.dial_high_hz[mine] - graded.dial_low_hz[mine] + 1).sum())
            if width > widest:
                best, widest = (turned_range, line), width
    return best


def _away_hz(turned_range: TurnedRange, line: int) -> int | None:
    """Return how far above the dial a way in lies, where that is the same everywhere. [Hz]"""
    lines = turned_range.response.lines
    p, q, d = (int(getattr(lines, name)[0][line]) for name in ("p", "q", "d"))
    return q // d if p == d and q % d == 0 else None


def _fools(turned: Sequence[TurnedRange]) -> Entry:
    response = _most_lost(turned)
    if response is None:
        hardly = any(turned_range.busy.unlisted for turned_range in turned)
        but = " They list hardly anybody on its images: that is not clear, but unknown." if hardly else ""
        return Entry("Fools it most", f"Nothing in the tables gets in.{but}")
    parts = [f"{'A' if response == PRODUCT else 'The'} {response}"]
    widest = _line_of(turned, response)
    away = None if widest is None else _away_hz(*widest)
    if away is not None:
        parts.append(
            f": a station really {hz_text(abs(away))} {'above' if away > 0 else 'below'} the dial setting"
        )
    parts.append(". ")
    worst = min(turned, key=lambda turned_range: turned_range.busy.usable + turned_range.busy.unknown)
    first = next((loss for loss in worst.busy.losses if loss.response == response), None)
    if first is not None:
        parts.append(
            f"On range {shown(worst.name)} most of it is {shown(first.label)}: {share_text(first.share)} of "
            "the dial on a busy evening. "
        )
    loudest = _loudest(turned)
    if loudest:
        parts.append(loudest)
    return Entry("Fools it most", "".join(parts).strip())


def _loudest(turned: Sequence[TurnedRange]) -> str:
    """Say who is heard loudest of all, and by which way."""
    best: tuple[float, TurnedRange, int] | None = None
    for turned_range in turned:
        graded = turned_range.response.graded
        mine = np.flatnonzero(
            (turned_range.response.lines.candidate[graded.line] == turned_range.candidate)
            & ~_at_home(turned_range)
        )
        if len(mine):
            top = int(mine[np.argmax(graded.heard_dbm[mine])])
            if best is None or graded.heard_dbm[top] > best[0]:
                best = float(graded.heard_dbm[top]), turned_range, top
    if best is None:
        return ""
    dbm, turned_range, top = best
    response = turned_range.response
    line, dial = int(response.graded.line[top]), int(response.graded.loudest_dial_hz[top])
    name = response_name(steps_of(response.lines, line), wanted_of(response.chains, turned_range.candidate))
    rf = _rf(turned_range, line, dial)
    label = shown(response.occupants.label_of(int(response.graded.occupant[top])))
    return (
        f"Loudest, if it is on: {label}, about {s_text(dbm, dial)} at {hz_text(round(dial, -4))}, "
        f"really on {hz_text(int(round(rf, -4)))}, by the {name}."
    )


def _at_home(turned_range: TurnedRange) -> npt.NDArray[np.bool_]:
    """Whether who comes in by a wrong way is heard where he belongs, by a stretch: a whistle, no stranger."""
    lines, graded = turned_range.response.lines, turned_range.response.graded
    dial, line = graded.loudest_dial_hz, graded.line
    p, q, d = (getattr(lines, name)[0][line] for name in ("p", "q", "d"))
    bandwidth = turned_range.response.chains.bandwidth_hz[turned_range.candidate]
    at_home: npt.NDArray[np.bool_] = np.abs((p * dial + q) / d - dial) <= bandwidth
    return at_home


def _rf(turned_range: TurnedRange, line: int, dial_hz: int) -> float:
    lines = turned_range.response.lines
    return float((lines.p[0][line] * dial_hz + lines.q[0][line]) / lines.d[0][line])


def _how_to_tell(receiver: Receiver, turned: Sequence[TurnedRange]) -> Entry:
    """Say how what fools the set most is told from a station that belongs."""
    response = _most_lost(turned)
    widest = None if response is None else _line_of(turned, response)
    if widest is None:
        return Entry(
            "How to tell",
            "Turn the dial: a stranger\u2019s pitch may move the wrong way or too fast. Rock the aerial "
            "trimmer: a stranger peaks elsewhere than its neighbours. Put a pad in the aerial: a harmonic "
            "falls by more.",
        )
    turned_range, line = widest
    lines, chains = turned_range.response.lines, turned_range.response.chains
    sentences = []
    away = _away_hz(turned_range, line)
    if away is not None:
        way = "up" if away > 0 else "down"
        sentences.append(
            f"Go and look: tune {hz_text(abs(away))} {way}; if the same programme is there, and stronger, "
            "that is where it really is."
        )
    elif int(lines.p[0][line]) == 0:
        sentences.append("It stays where it is while the dial is turned, and is heard all over the range.")
    pace = float(moves(chains, lines, np.array([line]))[0])
    if receiver.bfo is not None and np.isfinite(pace) and pace != 0.0:
        if pace == 1.0:
            sentences.append("Turning the dial with the BFO on makes no difference.")
        elif pace < 0:
            sentences.append(
                "Turn the dial with the BFO on: its pitch goes the opposite way to that of a real station."
            )
        else:
            sentences.append(
                f"Turn the dial with the BFO on: its pitch moves {pace:g} times as fast as that of a real "
                "station."
            )
    if away is not None:
        side = "higher" if away > 0 else "lower"
        sentences.append(
            "Rock the aerial trimmer: a real station peaks with the others, this one towards "
            f"{side} frequencies."
        )
    pad = int(pad_db_per_db(lines, np.array([line]))[0])
    sentences.append(
        "A pad at the aerial tells nothing: it falls as a real one does."
        if pad == 1
        else f"A 10 dB pad at the aerial takes {10 * pad} dB off it."
    )
    return Entry("How to tell", " ".join(sentences))


def cure_text(findings: Findings) -> str:
    """Return what is recommended, in the words of `cures`, and who is left then."""
    text = findings.sentences[0]
    if findings.recommended is not None:
        left = findings.recommended.outlook.losses[:1]
        text += "".join(f" Left then: {loss_text(loss)}." for loss in left)
    return shown(text)


# --- how it is laid -------------------------------------------------------------------------------


def _laid(card: Card, squeeze: float, tiers: tuple[int, int], beside: bool) -> Sheet:
    made = Sheet(WIDTH, 0.0)
    made.says = f"{shown(card.name)}: {card.verdict}"
    top = paragraph(
        made,
        wrapped(f"{shown(card.name)}: where the dial tells the truth", TITLE, WIDTH, True)[:2],
        0.0,
        0.0,
        TITLE,
        True,
    )
    top = paragraph(made, wrapped(card.verdict, VERDICT, WIDTH, True), 0.0, top, VERDICT, True)
    top = _key(made, card, top + 3) + 3
    made.add(Stroke(((0.0, top), (WIDTH, top)), THIN))
    strip = STRIPS_MM[min(len(card.ranges), MOST_RANGES)] * MM * squeeze
    for card_range in card.ranges:
        top = _range(made, card_range, top + 7 * squeeze, strip, tiers, beside)
    top += 6
    made.add(Stroke(((0.0, top), (WIDTH, top)), THIN))
    for entry in card.entries:
        head = paragraph(made, wrapped(entry.head, ENTRY, ENTRY_LEFT - 6, True), 0.0, top + 4, ENTRY, True)
        text = paragraph(made, wrapped(entry.text, ENTRY, WIDTH - ENTRY_LEFT), ENTRY_LEFT, top + 4, ENTRY)
        top = max(head, text)
    more = f" {card.more} more ranges stand on a card of their own." if card.more else ""
    foot = (
        "Below each scale: filled rails are broadcast bands, hollow ones amateur; the word under each is for "
        "that band alone, as on a busy evening. By the tables of who may transmit: hatched is where somebody "
        f"may come in; solid is no promise about what no table holds. {' '.join(cautions_of('card'))}{more}"
    )
    if card.reserve:
        foot = f"{card.reserve[:1].upper()}{card.reserve[1:]} {foot}"
    made.height = paragraph(made, wrapped(foot, FOOT, WIDTH), 0.0, top + 4, FOOT)
    return made


def _key(made: Sheet, card: Card, top: float) -> float:
    """Lay the key, only of what occurs; return where it ends. [pt]"""
    used = {
        WORDS[code] for card_range in card.ranges for code in np.unique(card_range.turned.words.word).tolist()
    }
    x, line = 0.0, top + RISE * KEY
    for word in KEY_ORDER:
        if word not in used:
            continue
        width = 32 + text_width(MEANING[word], KEY)
        if x and x + width > WIDTH:
            x, line = 0.0, line + 1.7 * KEY
        box = Box(x, line - 8, x + 27, line + 1)
        lay_fill(made, word, box)
        frame(made, box)
        made.add(Words(x + 31, line, MEANING[word], KEY))
        x += width + 12
    return line + HANG * KEY


def _range(
    made: Sheet, card_range: CardRange, top: float, strip: float, tiers: tuple[int, int], beside: bool
) -> float:
    turned = card_range.turned
    scale = Scale(turned.low_hz, turned.high_hz, 0.0, WIDTH)
    line = top + RISE * NAME
    word = word_text(turned.busy)
    word_left = WIDTH - text_width(word, WORD, True)
    # the name gives way: where a range begins and ends is never cut
    span = dashed(span_text(turned.low_hz, turned.high_hz))
    name = cut(shown(turned.name), NAME, word_left - text_width(span, SPAN) - 2 * GAP, True)
    made.add(Words(0.0, line, name, NAME, bold=True), Words(WIDTH, line, word, WORD, bold=True, anchor="end"))
    x = text_width(name, NAME, True) + GAP
    made.add(Words(x, line, span, SPAN))
    x += text_width(span, SPAN) + GAP
    share = shares_text(turned.typical)
    if card_range.offset_hz:
        off = "more" if card_range.offset_hz > 0 else "less"
        share += f"; drawn as its pointer shows, {hz_text(abs(card_range.offset_hz))} {off} than it is"
    remarks = wrapped(share, RAIL, max(word_left - x - 6, 60.0))
    if len(remarks) > 1:
        remarks = [cut(share, RAIL, WIDTH)]
        line += HANG * NAME + RISE * RAIL + 0.5
        made.add(Words(0.0, line, remarks[0], RAIL))
    else:
        made.add(Words(x, line, remarks[0], RAIL))
    top = line + HANG * NAME
    top = _intruder_names(made, card_range, scale, top, tiers[0])
    lay_strip(made, scale, turned.words, top, strip)
    # the numerals are what the pointer shows
    pointer = replace(
        scale, low_hz=scale.low_hz + card_range.offset_hz, high_hz=scale.high_hz + card_range.offset_hz
    )
    top = _ticks(made, pointer, top + strip)
    return _rail_names(made, card_range, scale, top + 1.5, tiers[1], beside)


def _intruder_names(made: Sheet, card_range: CardRange, scale: Scale, top: float, tiers: int) -> float:
    """Lay the names of who comes in above a strip, the worst first; return where the strip begins."""
    wishes = [Wish(scale.at(each.dial_hz), text_width(each.name, INTRUDER)) for each in card_range.intruders]
    full = place(wishes, 0.0, WIDTH, tiers)
    used = 1 + max((at.tier for at in full), default=-1)
    pitch = 1.25 * INTRUDER
    bottom = top + used * pitch + (3.0 if used else 0.0)
    for at in full:
        foot = bottom - 3.0 - at.tier * pitch
        wish = wishes[at.wish]
        made.add(Words(at.left, foot - HANG * INTRUDER, card_range.intruders[at.wish].name, INTRUDER))
        made.add(Stroke(((wish.x, foot + 0.5), (wish.x, bottom)), THIN))
    return bottom


def _ticks(made: Sheet, scale: Scale, top: float) -> float:
    lengths = {NUMBERED: TICK_PT + 1.5, SHORT: TICK_PT - 3.5}
    foot = top + TICK_PT + 2.5 + RISE * NUMERAL
    unit_left = WIDTH - text_width(scale.unit, NUMERAL)
    for tick in scale.ticks(46.0):
        made.add(Stroke(((tick.x, top), (tick.x, top + lengths.get(tick.kind, TICK_PT - 1.0))), TICK))
        half = text_width(tick.text, NUMERAL) / 2
        x = max(tick.x, half)
        if tick.text and x + half < unit_left - 4:
            made.add(Words(x, foot, tick.text, NUMERAL, anchor="middle"))
    made.add(Words(WIDTH, foot, scale.unit, NUMERAL, anchor="end"))
    return foot + HANG * NUMERAL


def _rail_names(
    made: Sheet, card_range: CardRange, scale: Scale, top: float, tiers: int, beside: bool
) -> float:
    """Lay the bands below a scale, their names and words in tiers, each word below its name or beside it."""
    if not card_range.rails:
        return top
    bottom = top + RAIL_HEIGHT
    wishes = []
    for rail in card_range.rails:
        box = Box(scale.at(rail.low_hz), top, max(scale.at(rail.high_hz), scale.at(rail.low_hz) + 2), bottom)
        if rail.amateur:
            frame(made, box)
        else:
            made.add(Ground(box, 1.0))
        word = _rail_word(rail)
        widths = text_width(rail.name, RAIL), text_width(word, RAIL, rail.word not in BELIEVED)
        width = widths[0] + BESIDE + widths[1] if beside else max(widths)
        wishes.append(Wish((box.left + box.right) / 2, width))
    gap, pitch = (1.0, 1.2 * RAIL) if beside else (2.0, 2.5 * RAIL)
    placed = place(wishes, 0.0, WIDTH, tiers)
    for at in placed:
        rail, wish = card_range.rails[at.wish], wishes[at.wish]
        y = bottom + gap + at.tier * pitch
        if at.tier:
            made.add(Stroke(((wish.x, bottom), (wish.x, y)), THIN))
        middle = at.left + wish.width / 2
        bold = rail.word not in BELIEVED
        if beside:
            made.add(Words(at.left, y + RISE * RAIL, rail.name, RAIL))
            right = at.left + wish.width
            made.add(Words(right, y + RISE * RAIL, _rail_word(rail), RAIL, bold, anchor="end"))
            continue
        made.add(Words(middle, y + RISE * RAIL, rail.name, RAIL, anchor="middle"))
        made.add(Words(middle, y + (RISE + 1.22) * RAIL, _rail_word(rail), RAIL, bold, anchor="middle"))
    used = 1 + max((at.tier for at in placed), default=-1)
    return bottom + gap + used * pitch


def _rail_word(rail: Rail) -> str:
    """Return the word of a band as it is drawn; the little that is in doubt shows on the strip above."""
    return {"don't": "DON\u2019T", "believe, but for a little": "believe, mostly"}.get(rail.word, rail.word)
