"""Every failure is one sentence on standard error, and no traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.programs import ROOT, furcal, python
from viewer import __main__ as program

DOCK = ("dock", "--level", "L4-5", "--side", "left", "--approach", "lateral", "--at", "0.5", "--radius", "11")


def with_option(option: str, value: str) -> tuple[str, ...]:
    """The docking above with one option's value replaced, or added."""
    words = list(DOCK)
    if option in words:
        words[words.index(option) + 1] = value
        return tuple(words)
    return (*words, option, value)


def assert_refused(words: tuple[str, ...], *named: str, cwd: Path = ROOT) -> None:
    """The command ends with 2, prints nothing, and says one line that names place and remedy."""
    done = furcal(*words, cwd=cwd)
    assert (done.returncode, done.stdout) == (2, ""), done.stderr
    lines = done.stderr.splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("furcal: ")
    assert lines[0].endswith(".")
    for word in named:
        assert word in lines[0]


@pytest.mark.parametrize(
    ("option", "value", "named"),
    [
        ("--level", "L4-6", ("--level", "'L4-6'", "Nearest: L4-5", "T12-L1", "L5-S1")),
        ("--level", "l4-5", ("--level", "L4-5")),
        ("--approach", "latral", ("--approach", "Nearest: lateral", "posterolateral")),
        ("--side", "up", ("--side", "left, right")),
        ("--at", "1.01", ("--at 1.01", "from 0 to 1")),
        ("--at", "-0.01", ("--at -0.01", "from 0 to 1")),
        ("--at", "nan", ("--at nan", "from 0 to 1")),
        ("--at", "-nan", ("--at nan", "from 0 to 1")),
        ("--at", "middle", ("--at", "'middle'", "number")),
        ("--at", "", ("--at", "number")),
        *[("--radius", bad, ("--radius", "0")) for bad in ("-1", "0", "-0.0", "1e9", "inf", "-inf", "nan", "1e400")],
        *[("--depth", bad, ("--depth", "from 0")) for bad in ("-1", "1e9", "inf", "-inf", "nan")],
        ("--cranial", "91", ("--cranial 91", "degrees")),
        ("--anterior", "-inf", ("--anterior -inf", "degrees")),
        ("--seed", "-1", ("--seed", "'-1'", "whole number")),
        ("--seed", "1.5", ("--seed", "whole number")),
        ("--specimen", "nowhere.toml", ("nowhere.toml", "no such file")),
        ("--specimen", ".", ("folder",)),
        ("--sied", "left", ("'--sied'", "Nearest: --side")),
        ("--jsn", "", ("'--jsn'", "--json")),
    ],
)
def test_bad_docking(option: str, value: str, named: tuple[str, ...]) -> None:
    assert_refused(with_option(option, value), *named)


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("dok",), ("'dok'", "Nearest: dock", "measure")),
        (("--speciman", "x"), ("--speciman", "Nearest: --specimen")),
        (("dock",), ("--level --side --approach --at --radius",)),
        (DOCK[:-2], ("missing here: --radius",)),
        (DOCK[:-1], ("--radius", "expected one argument")),
        ((*DOCK, "more"), ("'more'", "too many")),
        (("body",), ("--out", "required")),
        ((*DOCK, "--seed", "1", "--specimen", "x.toml"), ("--specimen and --seed",)),
    ],
)
def test_bad_words(words: tuple[str, ...], named: tuple[str, ...]) -> None:
    assert_refused(words, *named)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("name = Birch", ("line 1",)),
        ("name = 'Birch", ("TOML",)),
        ("statur_mm = 1650", ("'statur_mm'", "Nearest: stature_mm", "psoas_scale")),
        ("sex = 'woman'", ("sex", "'woman'", "female, male")),
        ("sex = 1", ("sex", "female, male")),
        ("stature_mm = 'tall'", ("stature_mm", "number")),
        ("stature_mm = true", ("stature_mm", "number")),
        ("stature_mm = 900", ("stature_mm", "900", "1400", "2100")),
        ("stature_mm = nan", ("stature_mm", "finite")),
        ("stature_mm = inf", ("stature_mm", "finite")),
        ("posture = 'standing'", ("posture", "'standing'", "side_lying, supine, prone")),
        ("table_break_deg = -1", ("table_break_deg", "0", "40")),
        ("table_break_deg = 20\nposture = 'prone'", ("table_break_deg", "side_lying")),
        ("up = 'top'", ("up", "left, right")),
        ("up = 'left'\nposture = 'supine'", ("up", "side_lying")),
        ("psoas_scale = 2", ("psoas_scale", "0.5", "1.6")),
        ("psoas_scale = [1]", ("psoas_scale", "number")),
        ("seed = 1.5", ("seed", "whole number")),
        ("seed = -3", ("seed", "whole number")),
        ("name = ''", ("name", "text")),
        ("name = 3", ("name", "text")),
        ("variants = 1", ("variants", "table")),
        ("[variants]\nfurcal_left = true", ("'furcal_left'", "accessory_obturator_left")),
        ("[variants]\nt12_share_left = 'yes'", ("t12_share_left", "true or false")),
        ("a = " + "[" * 20_000, ("TOML",)),
    ],
)
def test_bad_specimen(tmp_path: Path, text: str, named: tuple[str, ...]) -> None:
    (tmp_path / "birch.toml").write_text(text, encoding="utf-8")
    for command in (DOCK, ("measure",), ("body", "--out", "out"), ()):
        assert_refused((*command, "--specimen", "birch.toml"), "birch.toml", *named, cwd=tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["birch.toml"]


def test_a_specimen_that_is_no_text(tmp_path: Path) -> None:
    (tmp_path / "birch.toml").write_bytes(b"\xff\xfe\x00name")
    assert_refused((*DOCK, "--specimen", "birch.toml"), "birch.toml", "UTF-8", cwd=tmp_path)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("furcal_scene 1", ("TOML", "line 1")),
        ("name = 'Birch'", ("no scene file", "furcal_scene = 1")),
        ("furcal_scene = 2", ("schema 2", "reads 1: update furcal")),
        ("furcal_scene = 1\n[view]\ndissektion = 'psoas'", ("[view]", "'dissektion'", "Nearest: dissection")),
        ("furcal_scene = 1\n[view]\nglassy = ['psoas_major_lft']", ("glassy", "Nearest: psoas_major_left")),
        ("furcal_scene = 1\n[view.portal]\nat = 1.5", ("portal", "at = 1.5", "from 0 to 1")),
        ("furcal_scene = 1\n[specimen]\nstature_mm = 900", ("[specimen], stature_mm", "1400", "2100")),
    ],
)
def test_bad_scene(tmp_path: Path, text: str, named: tuple[str, ...]) -> None:
    (tmp_path / "birch.toml").write_text(text, encoding="utf-8")
    for command in ((), ("picture", "out.png")):
        assert_refused((*command, "--scene", "birch.toml"), "birch.toml", *named, cwd=tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["birch.toml"]


@pytest.mark.parametrize(
    ("view", "words", "named"),
    [
        ("shown = ['accessory_obturator_left']", (), ("accessory_obturator_left", "no such structure")),
        ("[view.portal]\nlevel = 'T12-L1'\ncranial_deg = 60", (), ("birch.toml, [view], portal", "cranial_deg = 60")),
        ("[view.camera]\nname = 'portal'", (), ("birch.toml, [view], camera", "--level")),
        ("", ("--view", "frnt"), ("--view", "Nearest: front")),
        ("", ("--level", "L4-5"), ("missing here: --side",)),
        ("", ("--sheet", "out"), ("one file",)),
    ],
)
def test_a_scene_that_cannot_be_drawn(
    tmp_path: Path, view: str, words: tuple[str, ...], named: tuple[str, ...]
) -> None:
    (tmp_path / "birch.toml").write_text(f"furcal_scene = 1\n[view]\n{view}", encoding="utf-8")
    assert_refused(("picture", "out.png", "--scene", "birch.toml", *words), *named, cwd=tmp_path)
    assert not (tmp_path / "out.png").exists()


def test_options_go_before_what_a_scene_says(tmp_path: Path) -> None:
    from viewer.commands import options, picture

    (tmp_path / "birch.toml").write_text("furcal_scene = 1\n[specimen]\nname = 'Birch'\n[view]\nlabels = false\n")
    parser = options.Parser("furcal picture", "")
    picture.add_options(parser)

    def seen(*words: str) -> tuple[str, str, str, bool]:
        args = parser.read(["out.png", "--scene", str(tmp_path / "birch.toml"), *words])
        scene = options.chosen_scene(args)
        assert scene is not None
        view = picture._overridden(scene.view, args)
        return scene.specimen.name, view.camera.name, view.dissection, view.labels

    assert seen() == ("Birch", "home", "psoas", False)
    assert seen("--view", "left", "--dissection", "vertebrae") == ("Birch", "left", "vertebrae", False)
    assert seen("--seed", "3") == ("seed 3", "home", "psoas", False)


def test_an_output_folder_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    assert_refused(("body", "--out", str(tmp_path / "file")), "file", "name a folder")
    assert_refused(("body", "--out", str(tmp_path / "file" / "under")), "file", "cannot be written")
    assert_refused(("body", "--out", "/proc/out/alder"), "/proc cannot be written", "name another folder")
    assert [path.name for path in tmp_path.iterdir()] == ["file"]
    assert_refused(("body", "--out", str(ROOT)), "other things than a body")


@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("words", [["--version"], ["dock", "--help"], ["--help"]])
def test_a_full_disk_is_told(words: list[str], unbuffered: str) -> None:
    with Path("/dev/full").open("w") as full:
        assert written_to(full.fileno(), words, unbuffered) == (
            2,
            "furcal: the output: there is no room left on the disk.\n",
        )


@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("words", [["--version"], ["--help"]])
def test_a_reader_that_goes_away_is_no_error(words: list[str], unbuffered: str) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    assert written_to(writing, words, unbuffered) == (141, "")
    os.close(writing)


def written_to(output: int, words: list[str], unbuffered: str) -> tuple[int, str]:
    """Exit code and words on standard error when standard output is a file of this number."""
    env = {**os.environ, "PYTHONUNBUFFERED": unbuffered}
    done = subprocess.run(
        [sys.executable, "-m", "viewer", *words],
        cwd=ROOT, env=env, stdout=output, stderr=subprocess.PIPE, text=True, check=False,
    )  # fmt: skip
    return done.returncode, done.stderr


def test_the_keyboard_stops_it_in_words() -> None:
    # A test that runs in the background of a shell has inherited that the keyboard is ignored.
    code = (
        "import os, signal, viewer.__main__ as m; signal.signal(signal.SIGINT, signal.default_int_handler); "
        "raise SystemExit(m.in_words(lambda: os.kill(os.getpid(), signal.SIGINT)))"
    )
    done = python("-c", code)
    assert (done.returncode, done.stderr) == (130, "furcal: stopped.\n")


def test_a_fault_of_ours_is_one_sentence_or_a_traceback_when_asked(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken() -> int:
        raise ValueError("shapes (3,)\nand (4,)")

    monkeypatch.delenv("FURCAL_DEBUG", raising=False)
    assert program.in_words(broken) == 1
    said = capsys.readouterr().err
    assert said == (
        "furcal: something went wrong inside furcal (ValueError: shapes (3,) and (4,)); FURCAL_DEBUG=1 shows where.\n"
    )
    monkeypatch.setenv("FURCAL_DEBUG", "1")
    assert program.in_words(broken) == 1
    assert "in broken" in capsys.readouterr().err


def test_output_survives_a_narrow_terminal_encoding() -> None:
    done = furcal("dok", "Köln", env={"PYTHONIOENCODING": "ascii"})
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
