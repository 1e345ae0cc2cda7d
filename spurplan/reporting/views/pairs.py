"""How pairs of stations read for people: pairs of one kind that come in together are one line."""

from __future__ import annotations

import numpy as np

from spurplan.columns import Coded, Table
from spurplan.reporting.layout import Show
from spurplan.reporting.plain import counted
from spurplan.responses.folding import kind_of

PAIRS = (
    Show("Range", ("range",)),
    Show("On the dial", ("dial_low_hz", "dial_high_hz"), near=True),
    Show("Grade", ("grade",), 3),
    Show("Heard", ("heard_s",), 1),
    Show("Margin", ("margin_db",), places=0, key="every", by="grade"),
    Show("Product", ("product",)),
    Show("on", ("lands_on",), 4),
    Show("Station 1", ("label_1",), comfort=14),
    Show("f1", ("f1_hz",), 2, near=True),
    Show("Station 2", ("label_2",), comfort=14),
    Show("f2", ("f2_hz",), 2, near=True),
)
TRIPLES = (
    *(show for show in PAIRS if show.head != "Margin"),
    Show("Station 3", ("label_3",)),
    Show("f3", ("f3_hz",), 2),
    Show("Margin", ("margin_db",), 4),
)
SAME = ("range", "product", "lands_on", "service_1", "service_2")


def folded(table: Table) -> tuple[Table, str]:
    """Return pairs as people see them, and a remark about it, "" where there is nothing to say.

    Notes
    -----
    Pairs of one range, product, target and services whose stretches overlap or touch make one
    line: the loudest pair of them, with the stretch they cover together.
    """
    if not len(table):
        return table, ""
    low, high = table["dial_low_hz"].astype(np.int64), table["dial_high_hz"].astype(np.int64)
    kind = kind_of(table, SAME)
    order = np.lexsort((low, kind))
    far = int(high.max()) + 2
    top = np.maximum.accumulate(high[order] + kind[order] * far)
    apart = low[order] + kind[order] * far > np.append(np.int64(-1), top[:-1]) + 1
    group = np.empty(len(table), dtype=np.int64)
    group[order] = np.cumsum(apart)
    # the table comes loudest first, so the first of a group is its loudest
    _, first, inverse, count = np.unique(group, return_index=True, return_inverse=True, return_counts=True)
    whole_low, whole_high = low[first].copy(), high[first].copy()
    np.minimum.at(whole_low, inverse, low)
    np.maximum.at(whole_high, inverse, high)
    shown = np.argsort(first, kind="stable")
    lines = table.take(first[shown])
    values = dict(lines.values)
    values["dial_low_hz"], values["dial_high_hz"] = whole_low[shown], whole_high[shown]
    labels = [
        f"{label} (and {counted(int(number) - 1, 'more pair')})" if number > 1 else label
        for label, number in zip(lines["label_2"].tolist(), count[shown].tolist(), strict=True)
    ]
    values["label_2"] = Coded(np.arange(len(labels), dtype=np.int64), labels)
    remark = ""
    if len(lines) < len(table):
        remark = (
            f"Pairs: {len(table):,} in {counted(len(lines), 'line')}; those of one range, product and "
            "two services whose stretches touch stand together; json lists each."
        )
    return Table(table.name, table.columns, values), remark
