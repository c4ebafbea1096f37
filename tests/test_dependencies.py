"""What the program rests on: bounded, from the registry alone, and free to be used together.

Known vulnerabilities need a service to ask; `.ci/audit` does that where one answers.
"""

import re
from importlib import metadata
from pathlib import Path

import pytest
import tomlkit
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
PROJECT = "self-portrait-assist"
EXTRAS = ("sound", "share", "raw", "tether")

# By what their metadata says. Weaker copyleft is all right for what is only imported, and none of
# it is required: the extra `tether` alone has it.
PERMISSIVE = re.compile(
    r"apache|mit\b|mit-|bsd|isc\b|psf|python software foundation|\bhpnd\b|0bsd|zlib|unlicense",
    re.IGNORECASE,
)
WEAK_COPYLEFT = re.compile(r"lgpl|lesser general public|mpl|mozilla", re.IGNORECASE)
STRONG_COPYLEFT = re.compile(r"(?<!l)gpl|(?<!lesser )general public|agpl|affero", re.IGNORECASE)


def own_requirements():
    return [Requirement(text) for text in metadata.requires(PROJECT)]


def installed(extras=()):
    """Every installed distribution that the program brings along, by name, and who asks for it."""
    found, asked, todo = {}, [], [(PROJECT, extra) for extra in ("", *extras)]
    seen = set()
    while todo:
        name, extra = todo.pop()
        if (name, extra) in seen:
            continue
        seen.add((name, extra))
        try:
            found[name] = metadata.distribution(name)
        except metadata.PackageNotFoundError:
            continue
        for text in found[name].requires or []:
            needs = Requirement(text)
            if needs.marker is None or needs.marker.evaluate({"extra": extra}):
                other = canonicalize_name(needs.name)
                asked.append((name, needs))
                todo += [(other, more) for more in ("", *needs.extras)]
    return found, asked


def licence(distribution):
    """What its metadata says, the most exact first."""
    about = distribution.metadata
    classes = [c for c in about.get_all("Classifier") or [] if c.startswith("License ::")]
    return about.get("License-Expression") or " ".join(classes) or (about.get("License") or "")[:80]


def test_every_dependency_is_bounded_and_comes_from_the_registry():
    for needs in own_requirements():
        if canonicalize_name(needs.name) == PROJECT:
            continue
        assert needs.url is None, needs
        operators = {one.operator for one in needs.specifier}
        assert operators & {"==", ">=", "~="}, f"{needs}: no lowest version"


def test_what_is_pinned_says_why():
    """An exact version gets no mended release by itself: each has its reason in DEVELOPERS.md."""
    told = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for needs in own_requirements():
        required = needs.marker is None or "extra" not in str(needs.marker)
        if required and any(one.operator == "==" for one in needs.specifier):
            assert f"`{needs.name}`" in told or f"{needs.name} |" in told or needs.name in told


def test_what_is_installed_is_what_is_asked_for():
    _, asked = installed()
    for who, needs in asked:
        have = metadata.version(needs.name)
        assert needs.specifier.contains(have, prereleases=True), f"{who} needs {needs}, not {have}"


def test_licences_go_together():
    required, _ = installed()
    assert len(required) > 20
    for name, distribution in required.items():
        words = licence(distribution)
        assert PERMISSIVE.search(words), f"{name}: {words!r}"
        assert not STRONG_COPYLEFT.search(words), f"{name}: {words!r}"
    for name, distribution in installed(EXTRAS)[0].items():
        words = licence(distribution)
        assert PERMISSIVE.search(words) or WEAK_COPYLEFT.search(words), f"{name}: {words!r}"


@pytest.mark.parametrize(
    ("words", "strong"),
    [("GPL-3.0-only", True), ("GNU General Public License v3", True), ("AGPL-3.0", True),
     ("LGPL-3.0-or-later", False), ("GNU Lesser General Public License", False), ("MIT", False)],
)  # fmt: skip
def test_a_licence_that_binds_the_whole_is_told_from_one_that_does_not(words, strong):
    assert bool(STRONG_COPYLEFT.search(words)) is strong


def locked():
    """Pinned versions of tests/locked.txt by name; several where Pythons differ."""
    pins = {}
    for line in (ROOT / "tests" / "locked.txt").read_text(encoding="utf-8").splitlines():
        if line and not line.startswith(("#", " ")):
            needs = Requirement(line.removesuffix("\\").strip())
            pins.setdefault(canonicalize_name(needs.name), []).append(needs)
    return pins


def test_the_locked_environment_keeps_the_bounds_and_names_no_host():
    about = tomlkit.parse((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pins = locked()
    for text in [*about["dependencies"], *about["optional-dependencies"]["dev"]]:
        needs = Requirement(str(text))
        name = canonicalize_name(needs.name)
        if name == PROJECT:
            continue
        assert name in pins, f"tests/locked.txt lacks {name}"
        for pin in pins[name]:
            [exact] = pin.specifier
            assert exact.operator == "==", pin
            assert needs.specifier.contains(exact.version, prereleases=True), f"{pin}, not {needs}"
    text = (ROOT / "tests" / "locked.txt").read_text(encoding="utf-8")
    assert not re.search(r"://|file:|--(index|extra-index|find)|@ ", text)


def test_every_locked_package_has_its_digests():
    text = (ROOT / "tests" / "locked.txt").read_text(encoding="utf-8")
    for entry in re.split(r"\n(?=\w)", text)[1:]:
        if "==" in entry:
            assert re.search(r"--hash=sha256:[0-9a-f]{64}", entry), entry.splitlines()[0]
