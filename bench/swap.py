"""Closed loop of the swap: predictions against simulated instruments strung anew, within their stated intervals.

A maker tunes and reads the instrument with ordinary gauges, the swap is predicted, the truth is changed by another
physics (`_swapping`), and every predicted figure is asked whether the truth lies within its ± (19 times in 20).
"""

from collections import defaultdict

import numpy as np

from bench._instruments import SimulatedInstrument, arrival
from bench._maker import Bench, truth
from bench._swapping import Strung, another_set
from breakangle.model.service import Service
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.state.board import board_of
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import family
from breakangle.services.swap.comparison import Swap, swap

FAMILIES = (
    ("electric-guitar", None),
    ("electric-guitar", "floating"),
    ("steel-acoustic-guitar", None),
    ("bass-four", None),
)
Hits = dict[str, list[tuple[bool, float]]]


def well_set_up(kind: str, seed: int, bridge_kind: str | None) -> SimulatedInstrument:
    """Return an instrument that leaves a bench: every target inside its tolerance, with a hand's scatter."""
    one = arrival(kind, seed, bridge_kind)
    rng, kin = np.random.default_rng(seed + 4 * 10**6), family(kind)
    hand = kin.targets["medium"]
    share = (1.0 - one.side) / 2.0
    one.set_relief(hand.relief_mm + rng.normal(0, 0.015))
    one.set_ends(
        hand.nut_high_mm + (hand.nut_low_mm - hand.nut_high_mm) * share + rng.normal(0, 0.008, one.count),
        hand.action_high_mm
        + (hand.action_low_mm - hand.action_high_mm) * share
        + rng.normal(0, 0.02, one.count),
    )
    one.set_intonation(rng.normal(0, 0.4, one.count))
    return one


def swap_one(kind: str, bridge_kind: str | None, seed: int, well: bool = False) -> tuple[Hits, Swap, bool]:
    """Return for each quantity whether each truth lay inside, and off by how many spreads; and whether it was out.

    `well`: an instrument that was set up before, else one as it comes in.
    """
    seed += 500_000 * well
    one = well_set_up(kind, seed, bridge_kind) if well else arrival(kind, seed, bridge_kind)
    bench = Bench(one, np.random.default_rng(seed + 10**6))
    strung = Strung(one, np.random.default_rng(seed + 2 * 10**6))
    bench.do(Tune())
    service = Service(instrument=one.instrument, readings=tuple(bench.full_set()))
    new = another_set(one, np.random.default_rng(seed + 3 * 10**6))
    targets = house_targets(board_of(one.instrument), "medium")
    before, _ = truth(one, targets)
    cleared, sounded = _everywhere(one)
    found = swap(service, new)
    told = strung.swap(new)
    after, tolerance = truth(one, targets)
    hits: Hits = defaultdict(list)
    by_role = {(one.words, one.string): one for one in found.figures}
    for target, off, was in zip(targets, after, before, strict=True):
        figure = by_role[target_kind(target).role(target)[0], target.string]
        _ask(hits, figure.words, figure.after, off + figure.wanted)
        _ask(hits, f"change of {figure.words}", figure.change, off - was)
    cleared_after, sounded_after = _everywhere(one)
    for index, string in enumerate(found.strings):
        for fret in range(one.frets):
            _ask(hits, "every gap", string.clearance_mm[fret], cleared_after[index, fret])
            moved = cleared_after[index, fret] - cleared[index, fret]
            _ask(hits, "change of every gap", string.clearance_change_mm[fret], moved)
        for fret in range(min(12, one.frets)):
            moved = sounded_after[index, fret] - sounded[index, fret]
            _ask(hits, "change of every note", string.cents_change[fret], moved)
    _ask(hits, "neck load", found.pull_change_n, told["pull_n"])
    if found.floating is not None:
        _ask(hits, "claw travel", found.floating.claw_travel_mm, told["claw_mm"])
        _ask(hits, "rise if left", found.floating.rise_if_left_mm, told["rise_mm"])
    return hits, found, bool((np.abs(after) > tolerance).any())


def _ask(hits: Hits, name: str, told: Known | None, true: float) -> None:
    if told is not None:
        spreads = abs(true - told.value) / max(told.uncertainty, 1e-9)
        hits[name].append((told.low - 1e-9 <= true <= told.high + 1e-9, spreads))


def _everywhere(one) -> tuple[np.ndarray, np.ndarray]:  # type: ignore[no-untyped-def]
    """Return the true open-string clearance over every crown in mm, and every note to the 12th in cents."""
    cleared, sounded = np.zeros((one.count, one.frets)), np.zeros((one.count, 12))
    for string in range(one.count):
        x, y = one._points(string)
        cleared[string] = (y[0] + (y[-1] - y[0]) * x / x[-1] - y)[1:-1]
        sounded[string] = [one.stopped_cents(string + 1, fret) for fret in range(1, 13)]
    return cleared, sounded


def run(
    kind: str, bridge_kind: str | None, count: int, well: bool = False
) -> tuple[Hits, list[tuple[str, float, bool]]]:
    """Return all hits of so many necks, and of each the answer, its chance and whether something was truly out."""
    every: Hits = defaultdict(list)
    answers = []
    first = 10_000 * FAMILIES.index((kind, bridge_kind))
    for seed in range(first, first + count):
        hits, found, out = swap_one(kind, bridge_kind, seed, well)
        for name, values in hits.items():
            every[name] += values
        answers.append((found.answer, found.chance, out))
    return every, answers


def _lines(name: str, every: Hits, answers: list[tuple[str, float, bool]]) -> list[str]:
    lines = [f"{name}, {len(answers)} necks"]
    for quantity, values in every.items():
        inside, spreads = zip(*values, strict=True)
        share = f"{100 * np.mean(inside):6.1f} %"
        lines.append(f"  {quantity:32s} {len(values):8d} {share:>8s} {np.median(spreads):6.2f} σ")
    for answer in ("yes", "perhaps", "no"):
        outs = [out for told, _, out in answers if told == answer]
        if outs:
            lines.append(
                f"  answered {answer:8s}: {len(outs):4d} times, truly out {100 * np.mean(outs):4.0f} %"
            )
    return lines


def report(quick: bool = False) -> str:
    """Return the table: 60 necks of each of four kinds as they come in, 40 well set up (10 each when quick)."""
    lines = [
        "Share of truths within the stated interval (which claims 95 %), and how often the answer was right.",
        f"{'':34s} {'figures':>8s} {'inside':>8s} {'median':>8s}",
    ]
    total = 0
    for well, count in ((False, 10 if quick else 60), (True, 10 if quick else 40)):
        for kind, bridge_kind in FAMILIES:
            how = "well set up" if well else "as it comes in"
            name = f"{kind}{' (' + bridge_kind + ')' if bridge_kind else ''}, {how}"
            lines += _lines(name, *run(kind, bridge_kind, count, well))
            total += count
    return "\n".join([*lines, f"{total} necks in all."])
