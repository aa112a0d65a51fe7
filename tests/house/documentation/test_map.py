"""The map of the house: every folder stands on it, with what belongs there, and it is current."""

import importlib.util

from house.source_rules import PACKAGE, ROOT


def map_tool():
    spec = importlib.util.spec_from_file_location("make_map", ROOT / "tools" / "make_map.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


TOOL = map_tool()


def test_the_map_is_current():
    assert TOOL.PAGE.read_text(encoding="utf-8") == TOOL.page(), "run: python tools/make_map.py"


def test_every_folder_says_what_belongs_in_it():
    assert len(TOOL.folders()) > 60
    assert [folder for folder in TOOL.folders() if len(TOOL.first_line(folder)) < 12] == []
    assert [place for place in TOOL.BESIDE if not (ROOT / place).is_dir()] == []


def test_what_may_use_a_folder_follows_the_layers():
    assert TOOL.users("model") == "`cli` to `reference`"
    assert TOOL.users("services") == "`cli` to `library`"
    assert TOOL.users("services/visits").endswith("`history`")
    assert TOOL.users("physics/string") == ""


def test_rooms_stand_outermost_first():
    rooms = [folder.name for folder in TOOL.folders() if folder.parent == PACKAGE]
    assert rooms.index("cli") < rooms.index("services") < rooms.index("planning") < rooms.index("model")
