"""The commands' own part: arguments, files, refusals. Poses and boards are tested beside."""

import cv2
import pytest
from typer.testing import CliRunner

from assist.calibrate import feed_profile
from assist.calibrate.board import Board
from assist.cli.calibrate import app
from assist.errors import UserError
from tests.calibrate.test_board import CAMERA, TILTED, seen


def run(*arguments):
    return CliRunner().invoke(app, [str(a) for a in arguments])


def test_board_from_a_folder_of_pictures(tmp_path):
    folder = tmp_path / "pictures"
    folder.mkdir()
    for k, view in enumerate(TILTED):
        cv2.imwrite(str(folder / f"{k:02d}.png"), seen(Board("charuco", 8, 6, 30.0), *view))
    out = tmp_path / "feed.toml"
    result = run("board", folder, "--out", out, "--every", 0)
    assert result.exit_code == 0, result.output
    assert "reprojection error" in result.output
    kept = feed_profile.load(out)
    assert kept.fx_px == pytest.approx(CAMERA.fx_px, rel=0.01)
    assert kept.camera(640, 360).fx_px == pytest.approx(kept.fx_px / 2)
    with pytest.raises(UserError, match="another shape"):
        kept.camera(640, 480)
    again = run("board", folder, "--out", out)
    assert isinstance(again.exception, UserError)


@pytest.mark.parametrize("ending", ["png", "pdf"])
def test_board_to_print(tmp_path, ending):
    path = tmp_path / f"board.{ending}"
    result = run("print-board", path, "--squares", "7x5", "--square", "20mm")
    assert result.exit_code == 0, result.output
    assert path.stat().st_size > 1000
    if ending == "png":
        assert b"pHYs" in path.read_bytes()[:80]
        picture = cv2.imread(str(path))
        assert Board("charuco", 7, 5, 20.0).find(picture) is not None


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("print-board", "x.gif"), "png or .pdf"),
        (("print-board", "x.png", "--squares", "eight"), "8x6"),
        (("print-board", "x.png", "--kind", "dots"), "charuco or chessboard"),
        (("mark", "0", "--at", "far", "--out", "p.toml"), "--at"),
        (("mark", "a", "b", "--at", "3m", "--out", "p.toml"), "2 feeds for 1 marks"),
    ],
)
def test_mistakes_are_told(arguments, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run(*arguments)
    assert isinstance(result.exception, UserError)
    assert message in str(result.exception)
