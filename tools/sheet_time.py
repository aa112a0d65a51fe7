"""How long a hand-back sheet takes on this machine: `python tools/sheet_time.py` prints the median of five.

Each is of a visit whose instrument differs a little, so that none is answered from what was worked out before; the
first, which also loads everything, is not counted. Also said: which form of the contact steps ran.
"""

import json
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

from breakangle.physics.contact import kernel
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.schema.stamp import Stamp

COUNTED, STEP_MM = 5, 0.01


def main() -> None:
    """Make the sheets in a shop of their own and print one line."""
    clock, processor, stamp = [], [], Stamp("Ada", datetime.now(UTC))
    with tempfile.TemporaryDirectory() as folder:
        shop = shop_at(Path(folder))
        for number in range(COUNTED + 1):
            data = json.loads(example_text())
            data["instrument"]["name"] = f"Sheet {number}"
            data["instrument"]["scale_mm"] += number * STEP_MM
            visit = bring_in(shop, json.dumps(data).encode(), "a file", stamp).visit
            began, worked = perf_counter(), process_time()
            sheet_file(shop, visit)
            clock.append(perf_counter() - began)
            processor.append(process_time() - worked)
        shop.close()
    form = "compiled" if kernel.library() is not None else "numpy"
    said = f"{median(clock[1:]):.2f} s by the clock, {median(processor[1:]):.2f} s of processor"
    sys.stdout.write(f"{said}, contact {form}\n")


if __name__ == "__main__":
    main()
