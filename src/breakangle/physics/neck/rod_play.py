"""The play of a rod: turned the other way, its nut first takes up slack in thread and seat, and then bends the neck.

Source: the play (backlash) operator, A. Visintin (1994), Differential Models of Hysteresis, section III.2. [memory]
"""


def taken_up_turns(turns: float, ahead_turns: float, play_turns: float) -> float:
    """Return how much of `turns`, always positive, only takes up slack; the rest works on the neck.

    Args:
        turns: how far the nut is turned; positive tightens.
        ahead_turns: slack that is left before it tightens, from 0 to `play_turns`.
        play_turns: all the slack there is, from where it tightens to where it loosens.

    Source: A. Visintin (1994), the play operator, as above. [memory]
    """
    room = ahead_turns if turns > 0.0 else play_turns - ahead_turns
    return min(max(room, 0.0), abs(turns))


def ahead_after_turns(turns: float, ahead_turns: float, play_turns: float) -> float:
    """Return how much slack is left before the rod tightens once its nut was turned; arguments as above.

    Source: A. Visintin (1994), the play operator, as above. [memory]
    """
    lost = taken_up_turns(turns, ahead_turns, play_turns)
    return ahead_turns - lost if turns > 0.0 else ahead_turns + lost
