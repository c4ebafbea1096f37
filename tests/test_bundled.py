"""Binaries that come along, in the repository and inside the wheels of others: `NOTICE` names each.

A wheel's metadata tells the licence of the package alone; these are what else lies in it. What can
say its own licence is asked: FFmpeg by its own function, LibRaw by its build flags, fonts by their
name tables.
"""

import ctypes
import fnmatch
import re
from importlib import metadata
from pathlib import Path

import pytest

from tests.test_dependencies import EXTRAS, ROOT, STRONG_COPYLEFT, installed

NOTICE = (ROOT / "NOTICE").read_text(encoding="utf-8")
_OF_OTHERS = re.compile(r"\.libs/|(^|/)lib[^/]*\.(so|dylib|dll)|\.(dll|dylib|ttf|otf)$")
_ITS_OWN = {
    # The package's own library, not somebody else's: its metadata is its licence.
    "ai-edge-litert": re.compile(r"ai_edge_litert/"),
    "mediapipe": re.compile(r"mediapipe/tasks/c/"),
    "gphoto2": re.compile(r"gphoto2/libgphoto2/"),  # parts of libgphoto2 itself
    "jaxlib": re.compile(r"jaxlib/"),
    "scipy": re.compile(r"^scipy/"),
}


def told():
    """Patterns of file names in NOTICE, each with whose it is and its licence."""
    _, _, listed = NOTICE.partition("Binaries of others in those wheels")
    found = {}
    for line in listed.splitlines()[1:]:
        names, _, rest = line.strip().partition(": ")
        whose, _, licence = rest.rpartition("; ")
        assert whose and licence, line
        for name in names.split():
            assert name not in found, f"{name} twice"
            found[name] = (whose, licence)
    return found


def stem(path):
    """A binary's name without "lib", version and the wheel builder's digits."""
    name = path.rpartition("/")[2].partition(".")[0].removeprefix("lib")
    return re.sub(r"-r?\d+$", "", re.sub(r"-[0-9a-f]{8}\b", "", name))


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("opencv_python.libs/libavcodec-76c43bf0.so.59.37.100", "avcodec"),
        ("numpy.libs/libgfortran-040039e1-0352e75f.so.5.0.0", "gfortran"),
        ("numpy.libs/libscipy_openblas64_-32a4b2a6.so", "scipy_openblas64_"),
        ("opencv_python.libs/libopenblas-r0-f650aae0.3.3.so", "openblas"),
        ("gphoto2.libs/libusb-1-150b88da.0.so.0.1.0", "usb"),
        ("gphoto2.libs/libldap-2-b8523ca2.4.so.2.10.7", "ldap"),
        ("gphoto2.libs/libnss3-77677daf.so", "nss3"),
        ("gphoto2.libs/libxml2-3998bec4.so.2.9.1", "xml2"),
        ("cv2/qt/plugins/platforms/libqxcb.so", "qxcb"),
        ("cv2/qt/fonts/DejaVuSans-Bold.ttf", "DejaVuSans-Bold"),
    ],
)
def test_a_binary_is_known_by_its_name(path, name):
    assert stem(path) == name


def bundled():
    """(distribution, path) of each binary of somebody else in what the program brings along."""
    for name, distribution in sorted(installed(EXTRAS)[0].items()):
        own = _ITS_OWN.get(name)
        for file in distribution.files or []:
            path = file.as_posix()
            if _OF_OTHERS.search(path) and not (own and own.search(path)):
                yield name, path


def test_every_binary_inside_the_wheels_is_named_with_its_licence():
    patterns, missing = told(), []
    found = list(bundled())
    for name, path in found:
        if not any(fnmatch.fnmatchcase(stem(path), pattern) for pattern in patterns):
            missing.append(f"{name}: {path} ({stem(path)})")
    assert not missing, "NOTICE does not name:\n" + "\n".join(missing)
    assert {"opencv-python", "numpy", "scipy", "pillow", "matplotlib"} <= {
        name for name, _ in found
    }


def test_no_binary_binds_the_whole():
    for whose, licence in told().values():
        bound = STRONG_COPYLEFT.search(licence) and "exception" not in licence
        assert not bound, f"{whose}: {licence}"


def test_every_package_with_binaries_is_named():
    for name in {name for name, _ in bundled()} | set(_ITS_OWN):
        assert name in NOTICE, name


def test_ffmpeg_says_itself_that_it_is_not_the_gpl_one():
    import cv2  # loads what FFmpeg's libraries need

    assert cv2.getBuildInformation()
    asked = 0
    for name in ("opencv-python", "opencv-contrib-python"):
        for file in metadata.distribution(name).files or []:
            part = stem(file.as_posix())
            if ".libs/" not in file.as_posix() or told().get(part, ("",))[0] != "FFmpeg":
                continue
            library = ctypes.CDLL(str(file.locate()))
            licence, built = getattr(library, f"{part}_license"), f"{part}_configuration"
            licence.restype = getattr(library, built).restype = ctypes.c_char_p
            assert licence().decode() == "LGPL version 2.1 or later", part
            assert b"nonfree" not in getattr(library, built)()
            asked += 1
    assert asked or not cv2.__file__.endswith(".so"), "no FFmpeg in the wheel"


def test_libraw_says_itself_that_its_gpl_parts_are_left_out():
    rawpy = pytest.importorskip("rawpy")
    assert not rawpy.flags["DEMOSAIC_PACK_GPL2"]
    assert not rawpy.flags["DEMOSAIC_PACK_GPL3"]


def test_wheels_with_ffmpeg_and_qt_bring_their_licences():
    for name in ("opencv-python", "opencv-contrib-python"):
        files = metadata.distribution(name).files or []
        (text,) = [f for f in files if f.match("*.dist-info/LICENSE-3RD-PARTY.txt")]
        words = text.read_text()
        for part in ("FFmpeg", "Qt 5", "libvpx", "GNU LESSER GENERAL PUBLIC LICENSE"):
            assert part in words, f"{name}: {part}"


def test_the_fonts_say_their_licence_themselves():
    from fontTools.ttLib import TTFont

    seen = set()
    for name, path in bundled():
        if not path.endswith(".ttf") or not stem(path).startswith(("DejaVu", "STIX")):
            continue
        table = TTFont(str(metadata.distribution(name).locate_file(path)), lazy=True)["name"]
        words = " ".join(str(table.getDebugName(number)) for number in (0, 13, 14))
        if stem(path).startswith("DejaVu"):
            assert "Bitstream" in words, path
        else:
            assert "STI Pub" in words, path
        seen.add(stem(path)[:4])
    assert seen == {"Deja", "STIX"}


def test_what_lies_in_the_repository_is_named():
    """Pictures, films, arrays and networks: each in a folder, or by a name, that NOTICE tells."""
    binary = {".tflite", ".task", ".jpg", ".png", ".mp4", ".npz", ".npy", ".ttf", ".woff2", ".wav",
              ".onnx", ".bin"}  # fmt: skip
    for room in ("assist", "optics", "samples", "tests"):
        for path in (ROOT / room).rglob("*"):
            if path.suffix not in binary or "__pycache__" in path.parts:
                continue
            inside = path.relative_to(ROOT)
            folders = [parent.as_posix() for parent in inside.parents if parent != Path()]
            if inside.is_relative_to("assist/pose/networks"):
                assert inside.name in NOTICE, inside
            else:
                assert any(re.search(rf"[( ]{folder}[,)]", NOTICE) for folder in folders), inside
