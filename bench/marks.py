"""What a job costs at the bench: screens, marks and minutes in a real browser, against the printed bench sheet.

A mark is one thing that a hand makes: a box filled, a choice made, a tick, a press on a button or a link. A screen is
an address at which a mark is made, whatever comes after its `?`. Paper is counted by the blanks of the bench sheet as
it is printed after take-in: what a person would have written at its head, its empty boxes, ticks and lines; then a tick
for each line of the plan that was done and a figure for each reading that was taken again. On paper one figure tells a
string's intonation, which is two readings, and nothing is told of price, promise, or what became of the complaint.

Minutes are the hand's alone, by the keystroke-level model (Card, Moran & Newell 1980, Communications of the ACM 23,
table 1: a key 0.28 s for an average typist, pointing 1.1 s), and on paper by writing at 22 words of five letters a
minute (Brown 1988, Human-Computer Interface Design Guidelines; from memory) after as long a reach.
"""

import json
import re
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from breakangle.planning.buzz.try_out import Wish
from web_fixtures.browser import CHROMIUM
from web_fixtures.process import Served
from web_fixtures.whole_hand_back import hand_back
from web_fixtures.whole_job import Job, Owner, job
from web_fixtures.whole_plan import follow_the_plan

MOST_SCREENS, MOST_OF_PAPER = 4, 1.2
KEY_S, POINT_S, LETTER_S = 0.28, 1.1, 60.0 / (22 * 5)
FIGURE_LETTERS, WORDS_LETTERS = 4, 25  # of a figure in mm or cents; of a few words
OWNER = Owner("Tom Fell", "Redstart", "high up the neck", "too-high", price="85")
BOXES = ("owner", "name", "complaint", "price", "promised_on", "temperature_c", "humidity_percent")
# Every change of a box or choice and every press, once, by the address it was made at.
COUNTED = """() => {
  const key = "marks", last = new WeakMap();
  const add = (letters) => {
    const all = JSON.parse(sessionStorage.getItem(key) ?? "{}");
    const here = (all[location.pathname] ??= { marks: 0, letters: 0 });
    here.marks += 1;
    here.letters += letters;
    sessionStorage.setItem(key, JSON.stringify(all));
  };
  addEventListener("change", ({ target }) => {
    if (last.get(target) === `${target.value}${target.checked}`) return;
    last.set(target, `${target.value}${target.checked}`);
    add(target.matches("input:not([type=checkbox], [type=date]), textarea") ? target.value.length : 0);
  }, true);
  addEventListener("click", ({ target }) => {
    if (target.closest?.("button, a[href], summary")) add(0);
  }, true);
}"""


@dataclass(frozen=True)
class Cost:
    """What a job took: screens and marks here, marks on paper, and the minutes of the hand for either."""

    name: str
    screens: tuple[str, ...]
    marks: int
    minutes: float
    paper_marks: int
    paper_minutes: float

    @property
    def holds(self) -> bool:
        """Return whether it took few enough screens and marks."""
        return len(self.screens) <= MOST_SCREENS and self.marks <= MOST_OF_PAPER * self.paper_marks

    @property
    def line(self) -> str:
        """Return its row of the table."""
        ratio = self.marks / self.paper_marks
        return (
            f"{self.name:16s} {len(self.screens):7d} {self.marks:6d} {self.paper_marks:6d} {ratio:6.2f} "
            f"{self.minutes:8.1f} {self.paper_minutes:8.1f}  {', '.join(self.screens)}"
        )


def blanks(sheet: str) -> tuple[int, int, int]:
    """Return how many figures, lines of words and ticks a bench sheet asks for before anything is done.

    Those of the second table are told by what is read again, and are left out here.
    """
    first, _, rest = sheet.partition("4  Read again")
    last = rest.partition("5  Check")[2]
    head = len(re.findall(r"<dt>(?:Owner|Complaint)</dt>", first)) + 1  # and the name of the instrument
    figures = len(re.findall(r'<td class="box"><bdi></bdi>', first))
    figures += len(
        re.findall(r"(?:Humidity|Temperature)[^<]*<span", first)
    )  # printed where take-in told them
    words = head + len(re.findall(r"(?:Date|Who): <span", first)) + last.count("Notes, strings fitted")
    return figures, words, first.count("☐") + last.count("☐")


def cost_of(bench: Job, name: str) -> Cost:
    """Do the job and return what it took."""
    page = bench.page
    page.add_init_script(f"({COUNTED})()")
    bench.take_in("Take in and read it now", BOXES)
    figures, words, ticks = blanks(page.request.get(f"{bench.here}/paper/bench.html").text())
    bench.read_everything()
    first = sum(map(len, bench.typed.values()))
    trips = follow_the_plan(bench)
    again = sum(map(len, bench.typed.values())) - first
    hand_back(bench, "the saddle stood too high", "left so", work=("clean-and-oil", "restring"))
    counted: dict[str, dict[str, int]] = json.loads(page.evaluate("sessionStorage.getItem('marks')"))
    marks = sum(one["marks"] for one in counted.values())
    letters = sum(one["letters"] for one in counted.values())
    ticks += len(bench.records()[1].work) if trips else 0
    figures += again
    paper = figures + words + ticks
    written_s = LETTER_S * (FIGURE_LETTERS * figures + WORDS_LETTERS * words)
    screens = tuple(sorted({re.sub(r"/\d+", "", one) or "/" for one in counted}))
    return Cost(
        name, screens, marks, (POINT_S * marks + KEY_S * letters) / 60.0, paper,
        (POINT_S * paper + written_s) / 60.0,
    )  # fmt: skip


def in_order(bench: Job) -> None:
    """Let the instrument stand as wanted: a routine service has nothing to adjust."""
    bench.truth.stand_at(Wish(0.2, 2.1, 1.6, 0.05, 0.04), np.random.default_rng(1))


def costs(quick: bool = False) -> list[Cost]:
    """Return what a routine service and a full set-up of a steel acoustic take; `quick`: the routine alone."""
    found = []
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        for name in ("routine service", "full set-up")[: 1 if quick else 2]:
            with tempfile.TemporaryDirectory(prefix="breakangle-marks-") as folder:
                served = Served(Path(folder))
                served.start()
                try:
                    with job(browser, served, "desktop", "steel-acoustic-guitar", OWNER, seed=8) as bench:
                        if name == "routine service":
                            in_order(bench)
                        found.append(cost_of(bench, name))
                finally:
                    served.stop()
        browser.close()
    return found


def prove(quick: bool = False) -> tuple[bool, str]:
    """Return whether no job takes more than paper allows, and the table."""
    found = costs(quick)
    head = (
        f"{'':16s} {'screens':>7s} {'marks':>6s} {'paper':>6s} {'ratio':>6s} {'minutes':>8s} {'on paper':>8s}"
    )
    return all(one.holds for one in found), "\n".join([head, *(one.line for one in found)])


if __name__ == "__main__":
    good, table = prove("--quick" in sys.argv)
    print(table)
    sys.exit(0 if good else 1)
