"""Wheel and source distribution, built and installed as a user has them, away from the source tree.

Needs an environment of its own (about 1.1 GB), so it runs only where it is asked for, as CI does:
python -m pytest -m slow tests/test_install.py
"""

import json
import os
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

from assist import __version__

pytestmark = pytest.mark.slow
ROOT = Path(__file__).resolve().parent.parent
NAME = f"self_portrait_assist-{__version__}"
CLEAN = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}


def run(*command, cwd, expect=0):
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env=CLEAN,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in (expect if isinstance(expect, tuple) else (expect,)), (
        done.stdout + done.stderr
    )
    return done.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Source distribution, and a wheel made from nothing but that."""
    folder = tmp_path_factory.mktemp("built")
    run(sys.executable, "-m", "build", "--outdir", folder, ROOT, cwd=folder)
    return folder


@pytest.fixture(scope="module")
def installed(built, tmp_path_factory):
    """The folder with the programs of an environment that holds the wheel and what it asks for."""
    folder = tmp_path_factory.mktemp("installed")
    venv.create(folder, with_pip=True)
    programs = folder / ("Scripts" if os.name == "nt" else "bin")
    wheel = built / f"{NAME}-py3-none-any.whl"
    run(programs / "python", "-m", "pip", "install", "--quiet", wheel, cwd=folder)
    return programs


def content(wheel):
    with zipfile.ZipFile(wheel) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_the_tree_itself_gives_the_same_wheel(built, tmp_path):
    run(sys.executable, "-m", "build", "--wheel", "--outdir", tmp_path, ROOT, cwd=tmp_path)
    [ours] = tmp_path.glob("*.whl")
    assert content(ours) == content(built / ours.name)


def test_the_wheel_holds_the_two_packages_whole_and_nothing_else(built):
    names = set(content(built / f"{NAME}-py3-none-any.whl"))
    tree = {
        path.relative_to(ROOT).as_posix()
        for package in ("assist", "optics")
        for path in (ROOT / package).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert tree <= names
    others = {name for name in names - tree if ".dist-info/" not in name}
    assert others == {f"assist/data/walk.{end}" for end in ("mp4", "truth.csv", "set-up.toml")}
    assert any(name.endswith("licenses/LICENSE") for name in names)


def test_the_source_holds_what_a_contributor_needs(built):
    with tarfile.open(built / f"{NAME}.tar.gz") as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml",
                 ".ci/run", "samples/walk.mp4", "samples/guidance-screen.jpg",
                 "samples/rendering/studio.py", "tests/test_install.py"):  # fmt: skip
        assert name in names, name
    assert not [name for name in names if "__pycache__" in name]


def test_what_is_installed_is_what_runs(installed, tmp_path):
    said = run(installed / "assist", "--version", cwd=tmp_path)
    assert said == f"self-portrait-assist {__version__}\n"
    assert run(installed / "python", "-m", "assist", "--version", cwd=tmp_path) == said
    where = run(installed / "python", "-c", "import assist; print(assist.__file__)", cwd=tmp_path)
    assert Path(where.strip()).is_relative_to(installed.parent)
    run(installed / "python", "-m", "pip", "check", cwd=tmp_path)


def test_every_module_loads_without_the_contributors_tools(installed, tmp_path):
    code = """
import importlib, pkgutil
import assist, optics
OPTIONAL = {"aiohttp", "segno"}
for package in (assist, optics):
    for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        try:
            importlib.import_module(module.name)
        except ModuleNotFoundError as error:
            assert error.name in OPTIONAL, (module.name, error)
print("all")
"""
    assert run(installed / "python", "-c", code, cwd=tmp_path) == "all\n"


def test_the_main_job_runs_on_the_sample(installed, tmp_path):
    said = run(installed / "assist", "demo", "--no-window", cwd=tmp_path)
    assert "in focus" in said
    for name in ("annotated.mp4", "distance.png", "record.jsonl", "picture-0001.png"):
        assert (tmp_path / "demo-output" / name).stat().st_size > 0


def test_the_data_files_are_there(installed, tmp_path):
    code = """
from importlib.resources import files
from assist.base.words import Words, languages
print(*languages())
assert Words("de").gettext("a little") == "ein wenig"
for name in ("index.html", "page.css", "page.js"):
    assert files("assist.output.phone").joinpath("page", name).read_bytes()
for package in ("assist", "optics"):
    assert files(package).joinpath("py.typed").is_file()
"""
    assert run(installed / "python", "-c", code, cwd=tmp_path) == "de en\n"
    run(installed / "assist", "sounds", "--output", "tones.wav", cwd=tmp_path)
    run(
        installed / "assist", "plan", "--lens", "35mm", "--aperture", "f/2", "--focus", "4m",
        "--stature", "1.7m", "--sheet", "plan.html", "--side-view", "place.png", cwd=tmp_path,
    )  # fmt: skip
    assert (tmp_path / "plan.html").stat().st_size > 0


def test_the_check_says_the_truth_about_this_environment(installed, tmp_path):
    said = run(
        installed / "assist", "check", "--json", "--patience", "5", cwd=tmp_path, expect=(0, 1)
    )
    states = {finding["what"]: finding["state"] for finding in json.loads(said)["findings"]}
    for what in ("program", "libraries", "video files", "pose model"):
        assert states[what] == "works", said
    assert states["phone page"] == "not installed"
    assert states["camera on a cable"] == "not installed"
