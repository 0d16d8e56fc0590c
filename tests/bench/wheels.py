"""Whether every dependency, and every dependency of those, has a wheel where the companion is to run: no install may
need a compiler.

    python tests/bench/wheels.py

pip is asked for wheels alone, as it would choose them for that system and Python. It would evaluate the markers of
what it finds for the Python that runs it, so the tree is walked here and markers are evaluated for the system asked
about (Python packaging user guide, "Dependency specifiers"). A source newer than the newest wheel counts too: a plain
install would take it. Needs the package index, for some ten minutes; musl Linux and Windows on ARM are not asked about.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name, parse_wheel_filename
from packaging.version import Version

REPOSITORY = Path(__file__).parent.parent.parent
PYTHONS = ("3.11", "3.12", "3.13", "3.14")


@dataclass(frozen=True, slots=True)
class System:
    """name: for people. platforms: the tags of wheels it takes, for pip. The others are what markers ask for (PEP
    508)."""

    name: str
    platforms: tuple[str, ...]
    sys_platform: str
    platform_system: str
    machine: str
    os_name: str = "posix"

    def environment(self, python: str) -> dict[str, str]:
        """What a marker is evaluated against, `extra` apart."""
        return {
            "implementation_name": "cpython",
            "implementation_version": f"{python}.0",
            "os_name": self.os_name,
            "platform_machine": self.machine,
            "platform_python_implementation": "CPython",
            "platform_release": "",
            "platform_system": self.platform_system,
            "platform_version": "",
            "python_full_version": f"{python}.0",
            "python_version": python,
            "sys_platform": self.sys_platform,
        }


def _glibc(machine: str, newest: int = 28) -> tuple[str, ...]:
    """The tags for glibc 2.17 (manylinux2014) to 2.28 (PEP 600): distributions from 2019 on have it."""
    return (*(f"manylinux_2_{minor}_{machine}" for minor in range(newest, 16, -1)), f"manylinux2014_{machine}")


SYSTEMS = (
    System("Linux x86-64", _glibc("x86_64"), "linux", "Linux", "x86_64"),
    System("Linux arm64", _glibc("aarch64"), "linux", "Linux", "aarch64"),
    System("macOS x86-64", ("macosx_13_0_x86_64",), "darwin", "Darwin", "x86_64"),
    System("macOS arm64", ("macosx_13_0_arm64",), "darwin", "Darwin", "arm64"),
    System("Windows x86-64", ("win_amd64",), "win32", "Windows", "AMD64", "nt"),
)


@dataclass(slots=True)
class Found:
    """Of one system and Python. wheels: package -> the wheel's file name. missing: those without one. newer: those
    whose source is newer than their wheel. left_out: packages that a marker of ours leaves out here -> whether there
    would be a wheel."""

    wheels: dict[str, str] = field(default_factory=dict)
    missing: set[str] = field(default_factory=set)
    newer: set[str] = field(default_factory=set)
    left_out: dict[str, bool] = field(default_factory=dict)


def own_requirements() -> list[Requirement]:
    """Those of the companion with its `sheets`."""
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [Requirement(line) for line in project["dependencies"] + project["optional-dependencies"]["sheets"]]


def applies(requirement: Requirement, environment: dict[str, str], extras: Iterable[str] = ()) -> bool:
    marker = requirement.marker
    return marker is None or any(marker.evaluate(environment | {"extra": extra}) for extra in ("", *extras))


def look(system: System, python: str) -> Found:
    """Walk the tree of dependencies, a level at a time."""
    found, environment = Found(), system.environment(python)
    asked: dict[str, set[str]] = {}
    level = [requirement for requirement in own_requirements() if applies(requirement, environment)]
    while level:
        level = [one for one in level if not {*one.extras, ""} <= asked.get(canonicalize_name(one.name), set())]
        for one in level:
            asked.setdefault(canonicalize_name(one.name), set()).update({*one.extras, ""})
        coming = []
        for one, report in _wheels(system, python, level):
            name = canonicalize_name(one.name)
            if report is None:
                found.missing.add(name)
                continue
            found.wheels[name] = wheel = report["download_info"]["url"].rpartition("/")[2]
            if not is_pure(wheel) and any(
                version > parse_wheel_filename(wheel)[1] for version in one.specifier.filter(sources(name, python))
            ):
                found.newer.add(name)
            needs = map(Requirement, report["metadata"].get("requires_dist", []))
            coming += [other for other in needs if applies(other, environment, one.extras)]
        level = coming
    for one in own_requirements():
        if not applies(one, environment) and canonicalize_name(one.name) not in found.wheels:
            [(_, report)] = _wheels(system, python, [one])
            found.left_out[canonicalize_name(one.name)] = report is not None
    return found


def _wheels(system: System, python: str, wanted: list[Requirement]) -> list[tuple[Requirement, dict | None]]:
    """What pip would install for each, None where there is no wheel. All in one call; one by one where that fails."""
    reports = _ask_pip(system, python, wanted) if wanted else {}
    if reports is None:
        if len(wanted) == 1:
            return [(wanted[0], None)]
        return [answer for one in wanted for answer in _wheels(system, python, [one])]
    return [(one, reports[canonicalize_name(one.name)]) for one in wanted]


def _ask_pip(system: System, python: str, wanted: list[Requirement]) -> dict[str, dict] | None:
    lines = {f"{one.name}{one.specifier}" for one in wanted}
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.json"
        command = [sys.executable, "-m", "pip", "install", "--dry-run", "--no-deps", "--ignore-installed", "--quiet"]
        command += ["--only-binary=:all:", "--implementation", "cp", "--python-version", python]
        for platform in system.platforms:
            command += ["--platform", platform]
        command += ["--target", folder, "--report", str(report), *sorted(lines)]
        done = subprocess.run(
            command, capture_output=True, encoding="utf-8", errors="replace", timeout=600, check=False
        )
        if done.returncode == 0:
            answers = json.loads(report.read_text(encoding="utf-8"))["install"]
            return {canonicalize_name(answer["metadata"]["name"]): answer for answer in answers}
    if "No matching distribution" not in done.stderr:
        raise RuntimeError(f"pip could not look for {', '.join(sorted(lines))}:\n{done.stderr}")
    return None


@cache
def sources(name: str, python: str) -> tuple[Version, ...]:
    """The versions that have a source for that Python."""
    command = [sys.executable, "-m", "pip", "index", "versions", name, "--no-binary=:all:", "--python-version", python]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", errors="replace", timeout=600, check=False)
    line = next((line for line in done.stdout.splitlines() if line.startswith("Available versions:")), "")
    if not line and "No matching distribution" not in done.stderr:
        raise RuntimeError(f"pip could not look for {name}:\n{done.stderr}")
    return tuple(map(Version, line.partition(":")[2].replace(",", " ").split()))


def is_pure(wheel: str) -> bool:
    return wheel.endswith("-none-any.whl")


def needs(found: Iterable[Found]) -> str:
    """The newest system that any of the wheels asks for: "glibc 2.28", "macOS 11.0" or ""."""
    said = {"manylinux": "glibc", "macosx": "macOS"}
    newest: dict[str, tuple[int, int]] = {}
    for wheel in (wheel for one in found for wheel in one.wheels.values()):
        least: dict[str, tuple[int, int]] = {}
        for kind, major, minor in re.findall(
            r"(manylinux|macosx)_(\d+)_(\d+)", wheel.replace("manylinux2014", "manylinux_2_17")
        ):
            version = int(major), int(minor)
            least[kind] = min(version, least.get(kind, version))
        for kind, version in least.items():
            newest[kind] = max(version, newest.get(kind, version))
    return ", ".join(f"{said[kind]} {version[0]}.{version[1]}" for kind, version in newest.items())


def main() -> int:
    everywhere = {system.name: {python: look(system, python) for python in PYTHONS} for system in SYSTEMS}
    of_all = [found for of_system in everywhere.values() for found in of_system.values()]
    pure = {
        name
        for name in {name for found in of_all for name in found.wheels}
        if all(is_pure(found.wheels[name]) for found in of_all if name in found.wheels)
    }
    print(f"One wheel for every system, {len(pure)} packages: {', '.join(sorted(pure))}\n")
    print(
        "ok: a wheel; -: left out by a marker, and there is none; +: left out, though there is one; "
        "MISSING: asked for, no wheel;"
    )
    print("SOURCE: a source that is newer than the wheel")
    for system, of_system in everywhere.items():
        least = needs(of_system.values())
        print(
            f"\n{system:<20}" + "".join(f"{python:>9}" for python in PYTHONS) + (f"   needs {least}" if least else "")
        )
        names = {
            name for found in of_system.values() for name in (*found.wheels, *found.missing, *found.left_out)
        } - pure
        for name in sorted(names):
            print(f"  {name:<18}" + "".join(f"{_cell(of_system[python], name):>9}" for python in PYTHONS))
    return 1 if any(found.missing or found.newer for found in of_all) else 0


def _cell(found: Found, name: str) -> str:
    if name in found.wheels:
        return "SOURCE" if name in found.newer else "ok"
    if name in found.missing:
        return "MISSING"
    return {True: "+", False: "-", None: ""}[found.left_out.get(name)]


if __name__ == "__main__":
    sys.exit(main())
