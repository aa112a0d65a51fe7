"""Whose usual figures and targets an instrument borrows, where it is no ordinary one of its kind."""

from breakangle.model.words.speech import tr
from breakangle.planning.state.board import Board
from breakangle.reference.families import family_of

# Scale over the kind's usual one; beyond that it is another instrument. Common practice, no source.
ORDINARY = (0.85, 1.18)


def borrowed_in_words(board: Board) -> list[str]:
    """Return in words whose targets are borrowed: another number of strings, or a scale far from the kind's."""
    kin, instrument = family_of(board.instrument), board.instrument
    strings, usual = len(instrument.strings), len(kin.strings)
    ratio = float(board.open_length_mm.mean()) / kin.scale_mm
    if strings == usual and ORDINARY[0] <= ratio <= ORDINARY[1]:
        return []
    return [
        tr(
            "Targets and usual figures are borrowed from a kind of {usual} strings and {usual_mm:.2f} mm, {kind}: for "
            "this one of {strings} strings and {scale_mm:.2f} mm none are known; set your own where they do not fit.",
            usual=usual,
            usual_mm=kin.scale_mm,
            kind=tr(kin.words),
            strings=strings,
            scale_mm=float(board.open_length_mm.mean()),
        )
    ]
