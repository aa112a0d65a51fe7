"""What the closed loop is judged by: minutes, tolerances, strengths, gauges, hands and seeds, all fixed here.

Nothing here follows the tables of the program: what is wanted and how well is handed to the planner figure by figure,
and the hidden truth is judged by the same figures, so that no leniency of the planner's own can help it. All figures
are common practice without a source, unless said.
"""

from typing import Final

# -- what is wanted -----------------------------------------------------------------------------------------------
# Relief, action (bass edge, treble edge) and nut clearance (bass edge, treble edge) in mm, for a medium hand.
WANTED_MM: Final[dict[str, tuple[float, float, float, float, float]]] = {
    "banjo-five": (0.15, 2.4, 2.2, 0.05, 0.04),
    "banjo-tenor": (0.15, 2.4, 2.2, 0.05, 0.04),
    "bass-five": (0.30, 2.0, 1.6, 0.07, 0.05),
    "bass-four": (0.30, 2.0, 1.6, 0.07, 0.05),
    "bass-six": (0.30, 2.0, 1.6, 0.07, 0.05),
    "electric-guitar": (0.30, 1.4, 1.15, 0.05, 0.04),
    "electric-guitar-eight": (0.30, 1.4, 1.15, 0.05, 0.04),
    "electric-guitar-seven": (0.30, 1.4, 1.15, 0.05, 0.04),
    "mandolin": (0.10, 1.7, 1.45, 0.05, 0.04),
    "nylon-acoustic-guitar": (0.12, 3.4, 2.8, 0.10, 0.08),
    "steel-acoustic-guitar": (0.20, 2.1, 1.6, 0.05, 0.04),
    "twelve-string-guitar": (0.20, 2.1, 1.6, 0.05, 0.04),
    "ukulele-concert": (0.06, 2.3, 2.2, 0.10, 0.10),
    "ukulele-soprano": (0.06, 2.3, 2.2, 0.10, 0.10),
    "ukulele-tenor": (0.06, 2.3, 2.2, 0.10, 0.10),
}
RELIEF_TOLERANCE_MM: Final = 0.06
ACTION_TOLERANCE_MM: Final = 0.10
NUT_TOLERANCE_MM: Final = 0.04
INTONATION_TOLERANCE_CENTS: Final = 2.0
# Saddles of one piece and ukuleles are counted a second time at this tolerance, in a column of its own.
WIDE_INTONATION_CENTS: Final = 5.0

# -- minutes, the same for everybody ------------------------------------------------------------------------------
READING_MIN: Final = 0.25
ROD_EIGHTH_MIN: Final = 1.0  # with the readings of relief after the turn
SIX_SLACK_AND_BACK_MIN: Final = 4.0  # n strings: n/6 of it
SCREW_MIN: Final = 0.5
SADDLE_OUT_MIN: Final = 6.0  # out, cut and in; once a trip, however many cuts
SLOT_MIN: Final = 1.5
SETTLE_MIN: Final = 3.0

# -- gauges: one standard deviation, and rounding ------------------------------------------------------------------
HEIGHT_GAUGE_MM: Final = 0.03
ACTION_ROUNDED_MM: Final = 0.05
RELIEF_ROUNDED_MM: Final = 0.02
FEELERS_MM: Final = 0.01
COARSE_FEELERS_MM: Final = 0.03  # the row of its own: `coarse_nut`
NUT_ROUNDED_MM: Final = 0.01
EAR_CENTS: Final = 0.25
PITCH_ROUNDED_CENTS: Final = 0.1
FINGER_CENTS: Final = 0.5
FINGER_LOW_CENTS: Final = 1.5  # at frets 1 to 3
MISTYPED_SHARE: Final = 0.04

# -- hands, one standard deviation ---------------------------------------------------------------------------------
SCREW_RATIO_SD: Final = 0.05  # each screw moves 1 ± this of what is asked
SCREW_HAND_MM: Final = 0.015
FILE_HAND_MM: Final = 0.01
POSITION_HAND_MM: Final = 0.05
ROD_HAND_TURNS: Final = 0.01
TUNED_CENTS: Final = 1.0
DETUNED_BY_ROD_CENTS: Final = 8.0

# -- travels -------------------------------------------------------------------------------------------------------
MOST_ROD_TURNS: Final = 1.5  # to either side of where it stands
SADDLE_SCREW_MM: Final = 4.0
DEEPEST_SADDLE_CUT_MM: Final = 4.0
DEEPEST_SLOT_MM: Final = 0.8
CROWN_SHAPED_MM: Final = 0.9  # to either side, on a saddle cut by hand
SLIDE_MM: Final = 8.0  # a bridge that stands loose
POSITION_SCREW_MM: Final = 6.0  # where the instrument's file states none

# -- heights of pluck in mm (light, medium, heavy), as they stood when this round of judging began -----------------
STRENGTHS_MM: Final[dict[str, tuple[float, float, float]]] = {
    "all": (0.3, 0.5, 1.0),
    "electric-guitar": (0.3, 0.45, 0.9),
    "electric-guitar-seven": (0.3, 0.45, 0.9),
    "electric-guitar-eight": (0.3, 0.45, 0.9),
    "steel-acoustic-guitar": (0.45, 0.75, 1.3),
    "twelve-string-guitar": (0.45, 0.75, 1.3),
    "nylon-acoustic-guitar": (0.7, 1.2, 2.0),
    "bass-four": (0.35, 0.5, 1.0),
    "bass-five": (0.35, 0.5, 1.0),
    "bass-six": (0.35, 0.5, 1.0),
    "mandolin": (0.5, 0.65, 1.3),
    "banjo-five": (0.5, 0.8, 1.5),
    "banjo-tenor": (0.6, 0.9, 1.7),
    "ukulele-soprano": (0.7, 1.1, 2.0),
    "ukulele-concert": (0.7, 1.1, 2.0),
    "ukulele-tenor": (0.7, 1.1, 2.0),
}

# -- what comes in -------------------------------------------------------------------------------------------------
CROWNS_FINE_MM, CROWNS_COARSE_MM, COARSE_SHARE = 0.012, 0.03, 0.30
BODY_JOINT_SHARE: Final = 0.15  # a hump at the joint or a rising tongue
TWIST_SHARE: Final = 0.15
SOUND_SHARE: Final = 0.12  # instruments on which all is inside

# A service of an instrument (three full sets, all plans between them) that takes more processor time counts as outside.
MOST_SECONDS: Final = 60

# -- seeds: the instrument's, and offsets of the maker's and the season's noise ------------------------------------
FIRST_SEED: Final = 410_000
MAKER_SEED, SEASON_SEED, SECOND_SEASON_SEED = 1_000_003, 2_000_003, 3_000_017
