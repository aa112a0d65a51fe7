"""What a plan says of instruments unlike the others: loose and floating bridges, zero frets, proud crowns."""

from breakangle.model.instrument import Bridge, Instrument, Nut
from breakangle.model.service import Service
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.targets.gap import KIND, GapTarget
from breakangle.reference.messages import words
from planning_cases import good, made_of, only, ordinary, role, service_reading


def with_bridge(kind: str, instrument: Instrument) -> Instrument:
    return instrument.model_copy(update={"bridge": Bridge(kind=kind)})  # type: ignore[arg-type]


def test_a_zero_fret_is_levelled_or_changed_and_no_slot_is_spoken_of():
    instrument = ordinary("electric-guitar").model_copy(update={"nut": Nut(kind="zero-fret")})
    nothing = tuple(Gap(string=string, fret=1, held=(3,), mm=0.0) for string in (1, 2, 3, 6))
    notes = made_of(Service(instrument=instrument, readings=nothing)).notes
    about = [note for note in notes if "No gap at" in note]
    assert len(about) == 1
    assert "strings 1 to 3 and 6 over fret 1, with fret 3 held" in about[0]
    assert "zero fret" in about[0]
    assert "slot" not in " ".join(notes)


def test_what_is_beyond_a_zero_fret_is_said_of_the_fret():
    wish = GapTarget(string=6, fret=1, held=(3,), mm=0.05)
    zero = ordinary("electric-guitar").model_copy(update={"nut": Nut(kind="zero-fret")})
    assert "zero fret is worn" in KIND.beyond(wish, True, zero)
    assert "too deep" in KIND.beyond(wish, True, ordinary("electric-guitar"))


def test_a_loose_bridge_that_is_too_low_wants_a_taller_bridge():
    made = made_of(service_reading(ordinary("banjo-five"), only("action", -4.0)))
    assert any("a taller bridge first" in note for note in made.notes)
    assert not [note for note in made.notes if "saddle" in note]


def test_an_instrument_with_a_proud_crown_is_not_left_and_its_reading_is_quoted():
    service = good()
    crowns = tuple(Crown(string=s, fret=9, mm=mm, uncertainty_mm=0.01) for s, mm in ((1, 0.10), (6, 0.12)))
    service = service.model_copy(update={"readings": service.readings + crowns})
    made = made_of(service)
    assert made_of(good()).verdict == "leave"
    assert made.verdict == "beyond-setup"
    said = [*made.notes, *(words(one.message) for one in made.findings)]
    assert any("crown of fret 9" in note and "read as 0.10 mm to 0.12 mm" in note for note in said)
    assert not [note for note in made.notes if "Stop here" in note or "leave it" in note]


def test_a_string_that_pulls_more_than_it_bears_is_not_left():
    instrument = ordinary("electric-guitar")
    strings = tuple(
        one.model_copy(update={"note": "E5"}) if one.string == 1 else one for one in instrument.strings
    )
    made = made_of(service_reading(instrument.model_copy(update={"strings": strings}), lambda target: 0.0))
    assert any("String 1 at E5 pulls" in note for note in made.notes)
    assert made.verdict == "beyond-setup"
    assert not [note for note in made.notes if "Stop here" in note or "leave it" in note]


def test_a_floating_bridge_is_spoken_of_wherever_the_pull_changes():
    instrument = with_bridge("floating", ordinary("electric-guitar"))
    made = made_of(service_reading(instrument, lambda target: 4.0 if role(target) == "relief" else 0.0))
    of_kind = {one.adjustment.adjust: " ".join(one.caution) for one in made.steps}
    for kind in ("rod", "tune"):
        assert "springs" in of_kind[kind]
        assert "go round the tuning again" in of_kind[kind]


def test_a_guessed_core_is_told_in_a_whole_sentence():
    instrument = ordinary("electric-guitar")
    strings = tuple(one.model_copy(update={"core_mm": None}) for one in instrument.strings)
    made = made_of(Service(instrument=instrument.model_copy(update={"strings": strings})))
    about = [note for note in made.notes if "usual size" in note]
    assert about
    assert all(note[0].isupper() and note.endswith(".") for note in made.notes)
