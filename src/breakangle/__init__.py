"""Breakangle: one physical model of a fretted instrument, from bench readings to a plan.

Five lines do the main job:

    import breakangle as ba

    service = ba.read_service("service.json")
    plan = ba.plan(service)
    for step in plan.steps:
        print(step.reason)

Every public name is loaded when it is first asked for, so that `import breakangle` costs next to nothing. The names are
those of `__all__`; everything else in this package may change without notice.

Units are the bench's: mm, N, g/m, Hz, cents (hundredths of an equal-tempered semitone), degrees Celsius. Up from the
board, away from the nut and sharp are positive. Arrays run over (strings, frets), string 1 first: column 0 is fret 1
unless it is said otherwise.
"""

# A type checker takes this name as true, wherever it comes from: nothing is loaded for it.
TYPE_CHECKING = False

__version__ = "0.1.0"

if TYPE_CHECKING:
    from breakangle.library.files import add_readings, example_service, read_service, write_service
    from breakangle.library.kinds import copy_kind
    from breakangle.library.planned import plan
    from breakangle.library.sound import Takes, listen
    from breakangle.library.state import Prediction, State, estimate, predict
    from breakangle.library.touching import BuzzMap, LowestSetup, buzz, lowest
    from breakangle.model.errors import BreakangleError
    from breakangle.model.instrument import Instrument
    from breakangle.model.plan import Plan
    from breakangle.model.reading import Reading
    from breakangle.model.service import Service

_HOME = {
    "add_readings": "library.files",
    "example_service": "library.files",
    "read_service": "library.files",
    "write_service": "library.files",
    "copy_kind": "library.kinds",
    "plan": "library.planned",
    "Takes": "library.sound",
    "listen": "library.sound",
    "Prediction": "library.state",
    "State": "library.state",
    "estimate": "library.state",
    "predict": "library.state",
    "BuzzMap": "library.touching",
    "LowestSetup": "library.touching",
    "buzz": "library.touching",
    "lowest": "library.touching",
    "BreakangleError": "model.errors",
    "Instrument": "model.instrument",
    "Plan": "model.plan",
    "Reading": "model.reading",
    "Service": "model.service",
}

__all__ = [
    "BreakangleError",
    "BuzzMap",
    "Instrument",
    "LowestSetup",
    "Plan",
    "Prediction",
    "Reading",
    "Service",
    "State",
    "Takes",
    "__version__",
    "add_readings",
    "buzz",
    "copy_kind",
    "estimate",
    "example_service",
    "listen",
    "lowest",
    "plan",
    "predict",
    "read_service",
    "write_service",
]


if not TYPE_CHECKING:  # a type checker sees the names themselves, and a name that is none as a mistake

    def __getattr__(name: str) -> object:
        """Return a public name, loaded now from where it lives (PEP 562).

        Raises:
            AttributeError: no public name.
        """
        if name not in _HOME:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from importlib import import_module

        found: object = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
        globals()[name] = found
        return found


def __dir__() -> list[str]:
    """Return what completion offers: the public names."""
    return __all__
