"""What one core can do at most: multiply-adds a second, by a loop that does nothing else."""

import ctypes
import subprocess
import tempfile
import time
from pathlib import Path

SOURCE = """
typedef double lanes __attribute__((vector_size(64)));
#if defined(__x86_64__) && !defined(ONE_CPU)
__attribute__((target_clones("arch=x86-64-v4", "arch=x86-64-v3", "default")))
#endif
double breakangle_peak(long rounds) {
    lanes sum[16], by = {1.0000001, 1, 1, 1, 1, 1, 1, 1}, more = {1e-9};
    for (int i = 0; i < 16; i++) sum[i] = by * i;
    for (long r = 0; r < rounds; r++)
        for (int i = 0; i < 16; i++) sum[i] = sum[i] * by + more;
    double all = 0;
    for (int i = 0; i < 16; i++) all += sum[i][0];
    return all;
}
"""
ROUNDS = 5_000_000


def peak_per_second() -> float | None:
    """Double-precision multiply-adds a second on one core, the best of three; None without a compiler."""
    with tempfile.TemporaryDirectory() as folder:
        source, made = Path(folder) / "peak.c", Path(folder) / "peak.so"
        source.write_text(SOURCE)
        flags = ["-O3", "-shared", "-fPIC", "-ffp-contract=fast", "-Wno-psabi"]
        for extra in ([], ["-DONE_CPU"]):
            try:
                done = subprocess.run(
                    ["cc", *flags, *extra, source, "-o", made], capture_output=True, check=False
                )
            except FileNotFoundError:
                return None
            if done.returncode == 0:
                break
        else:
            return None
        loop = ctypes.CDLL(str(made)).breakangle_peak
        loop.argtypes, loop.restype = [ctypes.c_long], ctypes.c_double
        best = float("inf")
        for _ in range(3):
            start = time.thread_time()
            loop(ROUNDS)
            best = min(best, time.thread_time() - start)
    return ROUNDS * 16 * 8 / best
