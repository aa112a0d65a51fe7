"""Pitch over time as a picture: one panel for each take, with the window used and the settling that was
fitted."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from breakangle.listening.pitch.combine import CENTS
from breakangle.listening.pitch.glide import pitch_track
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr
from breakangle.services.listening.takes import Listened, NamedTake

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_PANELS = 24
COLUMNS = 3
DOT, LINE, WINDOW = "#2f6f8f", "#8c2d19", "#f3ead2"


def draw_takes(heard: Listened, path: Path) -> None:
    """Write the picture to `path`, SVG or PNG by its ending.

    Raises:
        ChooseAnotherFileError: there is nothing to draw, or the place cannot be written.
    """
    from matplotlib.figure import Figure

    shown = [take for take in heard.takes if take.take.pitch is not None][:MOST_PANELS]
    if not shown:
        raise ChooseAnotherFileError(
            tr("no take has a pitch to draw"), "", tr("record again, one string at a time")
        )
    columns = min(COLUMNS, len(shown))
    rows = -(-len(shown) // columns)
    figure = Figure(figsize=(4.2 * columns, 2.5 * rows + 0.5), layout="constrained")
    panels = np.atleast_2d(np.asarray(figure.subplots(rows, columns, squeeze=False)))
    for place, panel in enumerate(panels.flat):
        if place < len(shown):
            _panel(panel, shown[place])
        else:
            panel.set_axis_off()
    figure.supxlabel(tr("seconds after the pluck (shaded: the window used)"), fontsize=9)
    figure.supylabel(tr("cents above the settled pitch"), fontsize=9)
    more = len([take for take in heard.takes if take.take.pitch is not None]) - len(shown)
    if more:
        figure.suptitle(
            tr("the first {shown_count} takes; {more} more are not drawn", shown_count=len(shown), more=more),
            fontsize=9,
        )
    try:
        figure.savefig(path, dpi=130)
    except OSError as cause:
        raise ChooseAnotherFileError(
            tr("{path} cannot be written", path=path), "", tr("name another place")
        ) from cause


def _panel(panel: "Axes", one: NamedTake) -> None:
    """Pitch track, fitted settling and window of one take."""
    pitch = one.take.pitch
    assert pitch is not None
    shape = pitch.solution.shape
    time_s, relative, weight = pitch_track(pitch.bands, shape.log_pitch)
    heavy = weight > 0.1 * np.median(weight)
    panel.axvspan(*pitch.window_s, color=WINDOW, zorder=0)
    panel.axhline(0.0, color="#888", linewidth=0.8, zorder=1)
    for chosen, strength in ((heavy, 0.9), (~heavy, 0.25)):
        panel.scatter(
            time_s[chosen], CENTS * relative[chosen], s=7, color=DOT, alpha=strength, linewidths=0, zorder=3
        )
    fine = np.linspace(0.0, float(pitch.window_s[1]), 200)
    panel.plot(
        fine, CENTS * shape.glide * np.exp(-shape.glide_rate * fine), color=LINE, linewidth=1.4, zorder=2
    )
    reach = max(3.0, 1.3 * float(np.quantile(np.abs(CENTS * relative), 0.9)), 1.15 * pitch.glide_cents)
    panel.set_ylim(-max(1.0, 0.4 * reach), reach)
    panel.set_xlim(0.0, float(pitch.window_s[1]) + 0.05)
    panel.tick_params(labelsize=7)
    panel.set_title(_title(one), fontsize=8, loc="left")


def _title(one: NamedTake) -> str:
    """What the take is, its pitch and its verdict."""
    pitch, name = one.take.pitch, one.name
    assert pitch is not None
    what = f"{one.take.start_s:.2f} s"
    if name is not None:
        place = tr("open") if name.fret == 0 else tr("fret {fret}", fret=name.fret)
        place = tr("harmonic {harmonic}", harmonic=name.harmonic) if name.harmonic else place
        what += tr(", string {string} {place}", string=name.string, place=place)
    hz = pitch.law.partial_one_hz
    return f"{what}: {hz:.3f} Hz ± {pitch.uncertainty_cents:.1f} c, {one.take.verdict.value}"
