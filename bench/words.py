"""The whole program in a made-up language: every verb, page, paper and answer to programs, and what stays English.

`python -m bench words` prints it; `python -m bench.prove words` says whether nothing stays. The example workshop is
made and walked in the language, so that what is stored in words is in it, too.
"""

import contextlib
import io
import json
import os
import re
import shutil
import sqlite3
import sys
import tempfile
import warnings
from collections import defaultdict
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from starlette.testclient import TestClient

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from breakangle.cli.main import main, verb_modules
from breakangle.model.words.speech import language
from breakangle.services.example_workshop.workshop import example_folder, load_example
from breakangle.services.service_files.example import example_text
from breakangle.web.app import make_app
from breakangle.web.options import Options
from made_up_language import BROWSER, made_up, texts_in, typed_in, unchanged, visible

PORT = 8321
LINKS = re.compile(r'\b(?:href|src|hx-get|action)="(/example[^"#]*)"')
# Files for machines, and what takes away what is walked.
LEFT_OUT = re.compile(r"\.(js|css|zip|webp|png|jpg|ics|csv)\b|/static/|/remove|/erase|/leave|attachments/")
MOST_PAGES, QUICK_PAGES = 400, 40
FILE_VERBS = (
    "plan FILE", "predict FILE", "buzz FILE", "lowest FILE", "check FILE", "strings FILE", "frets FILE", "wind FILE",
    "template", "template nut-slots FILE", "climate FILE --temperature 20 --humidity 30", "make", "make nut FILE",
    "make saddle FILE", "make refret FILE", "make neck-angle FILE", "make bridge FILE", "swap FILE", "procedure",
    "procedure restring", "design electric-guitar", "plan none.json", "plan", "nothing",
)  # fmt: skip
SHOP_VERBS = (
    "today", "visits", "due", "search buzz", "doctor", "prices", "where", "stock",
    "packs", "visit 1", "report 1 --form txt", "hand-back 1", "bill 1", "timeline 1", "setting", "devices",
    "complaint 1", "targets", "settle 1", "visit 999", "read 1 relief mm=99", "read 1 zzz",
    "list zzz",
    "change owner x",
)  # fmt: skip
BAD_FILES = ("{", "[]", '{"format": "breakangle/service/1"}', '{"format": "x"}', "")

# Keys that a person types, where a list of what is possible names them.
TYPED = """rattle crackle structure other restring unstring settle head plain moved stepped gaps centres crown gap pitch
owners owner instruments gauges lines attachments procedures runs used entries currency paper bench nut relief int
none refret certify figures simulate"""

Found = dict[str, list[str]]


def data_words(folder: Path) -> list[str]:
    """Return what people typed into the example workshop and the example file, and the names of the verbs."""
    typed = [*typed_in(json.loads(example_text())), *verb_names(), TYPED]
    with contextlib.closing(sqlite3.connect(example_folder(folder) / "shop.db")) as shop:
        for table in (
            "owner",
            "instrument",
            "visit",
            "gauge",
            "part",
            "price",
            "stock",
            "attachment",
            "setting",
        ):
            with contextlib.suppress(sqlite3.OperationalError):
                typed += [str(cell) for row in shop.execute(f"SELECT * FROM {table}") for cell in row if cell]
    return typed


def verb_names() -> list[str]:
    """Return the verbs by name."""
    return [module.__name__.rpartition(".")[2].replace("_", "-") for module in verb_modules()]


def run(*words: str) -> str:
    """Return what a command prints, its complaints with it."""
    out, errors = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
        main(list(words))
    return out.getvalue() + errors.getvalue()


def said_by_verbs(folder: Path) -> Iterator[tuple[str, str]]:
    """Yield what each verb's help says, then what verbs say of the example file, the example shop and bad files."""
    file = folder / "s.json"
    file.write_text(example_text(), encoding="utf-8")
    for name in ("", *verb_names()):
        yield f"{name} --help", run(*filter(None, [name, "--help"]))
    for words in FILE_VERBS:
        yield words, run(*words.replace("FILE", str(file)).split())
    yield "plan as JSON", "\n".join(texts_in(json.loads(run("plan", str(file), "--json"))))
    for words in SHOP_VERBS:
        yield words, run(*words.split(), "--example")
    for number, text in enumerate(BAD_FILES):
        file.write_text(text, encoding="utf-8")
        yield f"bad file {number}", run("plan", str(file))


def said_by_pages(client: TestClient, most: int) -> Iterator[tuple[str, str]]:
    """Yield what pages say, following their links from the first page on."""
    waiting, seen = ["/example/"], set[str]()
    shapes: dict[str, int] = defaultdict(int)
    while waiting and len(seen) < most:
        address = waiting.pop(0)
        shape = re.sub(r"\d+|[0-9a-f]{8,}|=[^&]*", "N", address)
        if address in seen or LEFT_OUT.search(address) or shapes[shape] >= 2:
            continue
        seen.add(address)
        shapes[shape] += 1
        answer = client.get(address)
        kind = answer.headers.get("content-type", "")
        if "json" in kind:
            yield address, "\n".join(texts_in(answer.json()))
        elif "html" in kind or "text/plain" in kind:
            yield address, visible(answer.text)
        waiting += LINKS.findall(answer.text) if "html" in kind else []


def words_left(folder: Path, most_pages: int = MOST_PAGES) -> Found:
    """Return the words that stay English, each with where it is said."""
    found: Found = defaultdict(list)
    with made_up(folder / "locale") as locale, language(locale):
        load_example(folder, datetime.now(UTC))
        data = data_words(folder)
        os.environ.update(BREAKANGLE_LANGUAGE=locale, BREAKANGLE_DATA=str(folder))
        with contextlib.chdir(folder):  # some verbs write their file beside the person
            for place, text in said_by_verbs(folder):
                for word in unchanged(text, data):
                    found[word].append(place)
        app = make_app(Options(folder, port=PORT))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with TestClient(app, base_url=f"http://127.0.0.1:{PORT}", client=("127.0.0.1", 5000)) as client:
                client.headers["accept-language"] = BROWSER
                for place, text in said_by_pages(client, most_pages):
                    for word in unchanged(text, data):
                        found[word].append(place)
    return found


def prove(quick: bool = False) -> tuple[bool, str]:
    """Return whether nothing stays English, and what does, with where."""
    folder = Path(tempfile.mkdtemp(prefix="breakangle-"))
    try:
        found = words_left(folder, QUICK_PAGES if quick else MOST_PAGES)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    lines = [f"{word}: {', '.join(dict.fromkeys(places[:3]))}" for word, places in sorted(found.items())]
    return not found, "\n".join([f"{len(found)} words stay English", *lines])


def report(quick: bool = False) -> str:
    """Return the figures."""
    return prove(quick)[1]
