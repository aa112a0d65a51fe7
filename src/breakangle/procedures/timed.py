"""What speaks against going on while something has to stand, in a sentence."""

from breakangle.model.words.speech import mark, tr
from breakangle.procedures.model import Timer

SENTENCES = {
    "not started": mark("{what}: it has not been timed; {least} to {most} s."),
    "standing": mark("{what}: {left_s:.0f} s of {least} s are left."),
    "too long": mark("{what}: it has stood {stood_s:.0f} s, {most} s at most."),
}


def timer_sentence(timer: Timer, state: str, left_s: float, stood_s: float) -> str:
    """Return what a timer in a state says against going on; empty where it has stood as long as it should."""
    if state not in SENTENCES:
        return ""
    least, most = timer.least_s, timer.most_s
    return tr(SENTENCES[state], what=timer.words, least=least, most=most, left_s=left_s, stood_s=stood_s)
