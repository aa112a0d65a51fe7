"""The buzz map as a picture: one panel for each strength, a cell for each note."""

from pathlib import Path

import numpy as np

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import mark, tr
from breakangle.services.service_files.buzz import BuzzReport

# Light to dark, so that the classes stand apart without colour too.
SHADES = ["#f3f1ea", "#f6d58a", "#e08a3c", "#8c2d19"]
CLASSES = [mark("clear"), "trace", "audible", "choking"]
WORDS = [mark("clear"), mark("touches, not heard"), mark("heard"), mark("choked")]


def draw_map(report: BuzzReport, path: Path) -> None:
    """Write the picture to `path`, SVG or PNG by its ending.

    Raises:
        ChooseAnotherFileError: the place cannot be written.
    """
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

    found, strengths = report.map, report.map.strengths
    strings = report.service.instrument_now().in_order()
    width, height = 2.2 + 0.42 * (found.fret_count + 1), 0.8 + 0.34 * len(strings)
    figure = Figure(figsize=(width, height * len(strengths) + 0.7), layout="constrained")
    panels = np.atleast_1d(np.asarray(figure.subplots(len(strengths), 1)))
    for panel, strength in zip(panels, strengths, strict=True):
        _panel(panel, report, strength)
        panel.set_yticks(range(len(strings)), [f"{string.string}  {string.note}" for string in strings])
    panels[-1].set_xlabel(
        tr("fret that is stopped (0: open string); figures: the crown met first; ?: may touch")
    )
    keys = [
        Patch(facecolor=shade, edgecolor="#555", label=word)
        for shade, word in zip(SHADES, WORDS, strict=True)
    ]
    figure.legend(handles=keys, loc="outside lower center", ncols=len(keys), frameon=False, fontsize=8)
    try:
        figure.savefig(path, dpi=130)
    except OSError as cause:
        raise ChooseAnotherFileError(
            tr("{path} cannot be written", path=path), "", tr("name another place")
        ) from cause


def _panel(panel: object, report: BuzzReport, strength: str) -> None:
    from matplotlib.axes import Axes
    from matplotlib.colors import BoundaryNorm, ListedColormap

    assert isinstance(panel, Axes)
    found = report.map
    cells = np.full((found.string_count, found.fret_count + 1), np.nan)
    for note in found.at(strength):
        level = CLASSES.index(note.verdict)
        cells[note.string - 1, note.stop] = level
        if note.crown is not None:
            ink = "white" if level == len(CLASSES) - 1 else "#222"
            panel.text(
                note.stop, note.string - 1, str(note.crown), ha="center", va="center", fontsize=7, color=ink
            )
        elif note.probability >= 0.05:
            panel.text(note.stop, note.string - 1, "?", ha="center", va="center", fontsize=8, color="#222")
    panel.imshow(
        cells, cmap=ListedColormap(SHADES), norm=BoundaryNorm([-0.5, 0.5, 1.5, 2.5, 3.5], 4), aspect="auto"
    )
    panel.set_xticks(range(found.fret_count + 1))
    panel.set_xticks(np.arange(-0.5, found.fret_count + 1), minor=True)
    panel.set_yticks(np.arange(-0.5, found.string_count), minor=True)
    panel.grid(which="minor", color="white", linewidth=1.2)
    panel.tick_params(which="both", length=0, labelsize=8)
    height = found.playing.strengths.height_mm(strength)
    panel.set_title(
        tr(
            "{instrument_name}: {strength} play, {height:g} mm",
            instrument_name=report.service.instrument.name,
            strength=tr(strength),
            height=height,
        ),
        fontsize=10,
        loc="left",
    )
