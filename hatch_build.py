"""Build hook: compile the contact kernel where there is a C compiler; without one numpy does the same."""

import os
import shutil
import subprocess
import sysconfig
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

FOLDER = Path("src/breakangle/physics/contact")
FLAGS = ["-O3", "-fPIC", "-shared", "-ffp-contract=fast", "-fno-math-errno", "-Wno-psabi"]


def compilers() -> list[str]:
    """Compilers to try, in order: the environment's CC, then the usual names."""
    named = [os.environ["CC"]] if os.environ.get("CC") else []
    return [one for one in [*named, "cc", "gcc", "clang"] if shutil.which(one.split()[0])]


def compile_kernel(root: Path) -> Path | None:
    """Path of the compiled kernel, or None where no compiler made one."""
    source, target = root / FOLDER / "kernel.c", root / FOLDER / "strike.so"
    for compiler in compilers():
        for extra in ([], ["-DONE_CPU"]):
            made = target.with_suffix(".new")
            command = [*compiler.split(), *FLAGS, *extra, str(source), "-o", str(made), "-lm"]
            if subprocess.run(command, capture_output=True, check=False).returncode == 0:
                made.replace(target)
                return target
    return None


class KernelHook(BuildHookInterface[Any]):
    """Adds the compiled kernel to the wheel, and marks the wheel as made for this system."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Compile before the files are gathered; an editable install finds the kernel beside its source."""
        if self.target_name != "wheel" or os.environ.get("BREAKANGLE_NO_KERNEL"):
            return
        made = compile_kernel(Path(self.root))
        if made is None:
            self.app.display_warning("No C compiler: contact runs in numpy, slower, with the same results.")
            return
        if version != "editable":
            build_data["artifacts"].append(str(FOLDER / "strike.so"))
            build_data["pure_python"] = False
            system = sysconfig.get_platform().replace("-", "_").replace(".", "_")
            build_data["tag"] = f"py3-none-{system}"
