"""What is said of a template, its numbers among it, in the unit its reader measures in; its parts stay in mm."""

from dataclasses import replace

from breakangle.documents.renderers.page_units import sentence_in_inches, table_in_inches
from breakangle.documents.true_size.geometry import Drawing, Figures


def words_in_inches(drawing: Drawing) -> Drawing:
    """Return the drawing with the words and tables under it in inches.

    The words in it were written in the unit it was drawn for.
    """
    return replace(
        drawing,
        told=tuple(map(sentence_in_inches, drawing.told)),
        figures=tuple(map(_figures, drawing.figures)),
    )


def _figures(figures: Figures) -> Figures:
    head, rows = table_in_inches(figures.head, figures.rows)
    return replace(figures, head=head, rows=rows, told=sentence_in_inches(figures.told))
