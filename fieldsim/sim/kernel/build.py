"""Compile the kernel's C side into one shared library: with the compiler that PyPI carries (ziglang), for any machine.

As fieldsim is installed this is done by its build hook. In a folder of its source:

    python -m fieldsim.sim.kernel.build [--target TRIPLE] [--to FILE] [--sanitize]

Only the standard library is used here, so that a build can load this file alone. Answers differ in their last bits
between two compilers, so its version is pinned (pyproject.toml). On x86-64 the kernel is compiled three times, for
processors with AVX-512, with AVX2 and without either; which one fits is found out as the library is loaded. The bits
are the same.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import platform
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

SOURCES = Path(__file__).parent / "c"
COMPILE = "python -m fieldsim.sim.kernel.build"

# -ffp-contract=off: each operation is rounded alone. -fno-math-errno: the square root is one instruction.
FLAGS = (
    "-std=c11", "-O3", "-ffp-contract=off", "-fno-math-errno", "-fvisibility=hidden", "-Wall", "-Wextra", "-Werror",
    "-Wno-psabi",
)  # fmt: skip
VARIANTS = {"x86_64": {"_plain": "x86_64", "_avx2": "x86_64_v3", "_avx512": "x86_64_v4"}}
# The oldest systems the library is to run on: glibc of 2012, macOS 11.
TARGETS = {
    ("Linux", "x86_64"): "x86_64-linux-gnu.2.17",
    ("Linux", "aarch64"): "aarch64-linux-gnu.2.17",
    ("Darwin", "x86_64"): "x86_64-macos.11.0",
    ("Darwin", "arm64"): "aarch64-macos.11.0",
    ("Windows", "AMD64"): "x86_64-windows-gnu",
    ("Windows", "ARM64"): "aarch64-windows-gnu",
}


def library_name(system: str = sys.platform) -> str:
    """The library's file name on a system, as ``sys.platform`` tells it."""
    ending = {"darwin": "dylib", "win32": "dll"}.get(system, "so")
    return f"_kernel.{ending}"


def source_mark() -> str:
    """A mark of the sources, which the library made from them carries."""
    found = hashlib.sha256()
    for file in sorted(SOURCES.glob("*.[ch]")):
        found.update(file.name.encode() + b"\0" + file.read_bytes().replace(b"\r\n", b"\n"))
    return found.hexdigest()[:16]


def machine_target() -> str:
    """The target of this machine, in the compiler's words."""
    system, machine = platform.system(), platform.machine()
    found = TARGETS.get((system, machine))
    if found is None:
        return "native"
    if system == "Linux" and platform.libc_ver()[0] != "glibc":
        return found.replace("gnu.2.17", "musl")
    return found


def build(to: Path, target: str | None = None, sanitize: bool = False) -> Path:
    """Compile the library to a file. Raises RuntimeError with the compiler's words if it cannot.

    ``sanitize`` makes one for tests only, of the machine's own compiler (gcc or clang), that stops at any undefined
    behaviour and any access out of bounds.
    """
    target = target or machine_target()
    if sanitize:
        own = shutil.which("gcc") or shutil.which("clang")
        if own is None:
            raise RuntimeError("checks of memory are compiled with gcc or clang, and neither is there")
        compiler = [own, "-g", "-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all"]
        variants = {"_plain": ""}
    else:
        if importlib.util.find_spec("ziglang") is None:
            raise RuntimeError("the compiler is missing: python -m pip install ziglang (the version in pyproject.toml)")
        compiler = [sys.executable, "-m", "ziglang", "cc", "-target", target, "-fno-sanitize=undefined"]
        variants = VARIANTS.get(target.split("-")[0] if target != "native" else "", {"_plain": ""})
    windows = "windows" in target
    pic = [] if windows else ["-fPIC"]
    with tempfile.TemporaryDirectory() as folder:
        objects = []
        jobs = []
        for variant, processor in variants.items():
            objects.append(str(Path(folder) / f"kernel{variant}.o"))
            own_flags = [f"-mcpu={processor}"] if processor else []
            if variant == "_avx512":
                own_flags.append("-mprefer-vector-width=512")
            jobs.append(
                [*compiler, *FLAGS, *pic, *own_flags, f"-DVARIANT={variant}", "-c", "-o", objects[-1],
                 str(SOURCES / "kernel.c")]
            )  # fmt: skip
        objects.append(str(Path(folder) / "variant.o"))
        several = ["-DWITH_VARIANTS"] if len(variants) > 1 else []
        jobs.append(
            [*compiler, *FLAGS, *pic, *several, f'-DSOURCE="{source_mark()}"', "-c", "-o", objects[-1],
             str(SOURCES / "variant.c")]
        )  # fmt: skip
        made = Path(folder) / "library"
        libraries = [] if windows else ["-lm"]
        strip = [] if sanitize else ["-s"]
        for job in [*jobs, [*compiler, *strip, "-shared", "-o", str(made), *objects, *libraries]]:
            done = subprocess.run(job, capture_output=True, text=True)
            if done.returncode != 0:
                raise RuntimeError(f"{' '.join(job)}\n{done.stderr}")
        # Beside it first, then in its place: whoever has the old one loaded keeps it.
        beside = to.with_name(to.name + ".new")
        shutil.copyfile(made, beside)
        beside.replace(to)
    return to


def main(arguments: list[str] | None = None) -> int:
    words = argparse.ArgumentParser(description="Compile the kernel of fieldsim.")
    words.add_argument("--target", help="another machine than this, in the words of zig, such as aarch64-macos.11.0")
    words.add_argument("--to", type=Path, help="the file to write")
    words.add_argument("--sanitize", action="store_true", help="with checks of memory and arithmetic, for tests")
    asked = words.parse_args(arguments)
    try:
        build(asked.to or Path(__file__).parent / library_name(), asked.target, asked.sanitize)
    except RuntimeError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
