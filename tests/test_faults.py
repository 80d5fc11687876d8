"""What may go wrong outside the program: nothing already there is lost, no half file is left.

The rules of the operating system are POSIX's: a limit on the size of files stands for a full disk,
`rename` and `link` are one step (IEEE Std 1003.1).
"""

from __future__ import annotations

import errno
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from floorplan.cli.main import main
from floorplan.shop import edit

ROOT = Path(__file__).resolve().parents[1]
SHOP = """\
shop: small room
tape: 0
room: {size: [10', 10'], height: 8'}
equipment:
  cube: {width: 2', depth: 2', height: 2', at: {x: 4', y: 4'}}
"""
WHOLE = """\
shop: small room
tape: 0
room: {size: [10', 10'], height: 8'}
doors:
  way: {wall: south, at: 2', width: 3', height: 80 in, leads to: outside, kind: opening}
stock:
  sheet: {length: 4', width: 2', thickness: 0.5 in}
equipment:
  cube:
    width: 2'
    depth: 2'
    height: 30 in
    surface: 30 in
    at: {x: 4', y: 4'}
    feet:
      at: [[1", 1"], [23", 1"], [23", 23"], [1", 23"]]
      shortest: 1"
      longest: 4"
      height without feet: 28"
      level with: saw
      step: 0
  saw: {width: 1', depth: 1', height: 30 in, surface: 30 in, at: {x: 0, y: 8'}}
floor:
  datum: 1"
  readings:
    - {at: [0, 0], reading: 1"}
    - {at: [10', 0], reading: 1"}
    - {at: [10', 10'], reading: 1"}
    - {at: [0, 10'], reading: 1"}
jobs:
  bring: {carry: [{stock: sheet, from: way, to: cube}]}
"""
TINY = 3000
"""Bytes that fit on the full disk: less than any drawing and than the first shop file."""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    path = tmp_path / "shop.yaml"
    path.write_text(SHOP, encoding="utf-8")
    return path


def full_disk() -> None:
    """No file of the child grows beyond TINY, and it is told so by an error."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (TINY, TINY))


def run(*arguments: str, before: Callable[[], None] | None = None) -> tuple[int, str]:
    """Exit status and errors of the program in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "floorplan", *arguments],
        cwd=ROOT, capture_output=True, text=True, timeout=120, preexec_fn=before, check=False,
    )  # fmt: skip
    return done.returncode, done.stderr


def killed_while(step: str, path: Path, content: bytes, *, only_new: bool = False) -> None:
    """Write a file in a child that is killed at a step of the writing."""
    child = os.fork()
    if child == 0:  # pragma: no cover - the child does not come back
        setattr(os, step, lambda *_: os.kill(os.getpid(), signal.SIGKILL))
        try:
            edit.write_beside_then_replace(path, content, only_new=only_new)
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL


# --- a full disk ---------------------------------------------------------------------------


def test_a_full_disk_leaves_old_drawings_whole(shop: Path, tmp_path: Path) -> None:
    out = tmp_path / "drawings"
    out.mkdir()
    for kind in ("svg", "pdf", "png"):
        (out / f"check.{kind}").write_bytes(b"as it was")
    status, errors = run("check", str(shop), "-o", str(out), before=full_disk)
    assert status == 2
    assert "cannot be written" in errors
    assert f"{out}/check." in errors
    assert "--no-figures" in errors
    assert "Traceback" not in errors
    assert {p.name: p.read_bytes() for p in out.iterdir()} == {
        f"check.{kind}": b"as it was" for kind in ("svg", "pdf", "png")
    }


def test_a_full_disk_leaves_no_half_shop_file(tmp_path: Path) -> None:
    path = tmp_path / "new.yaml"
    status, errors = run("start", str(path), before=full_disk)
    assert status == 2
    assert "cannot be written" in errors
    assert list(tmp_path.iterdir()) == []
    assert run("start", str(path))[0] == 0
    assert path.stat().st_size > TINY


WRITERS = [
    ("check", "SHOP", "--no-figures", "--csv"),
    ("check", "SHOP", "--no-figures", "--dxf"),
    ("check", "SHOP", "--no-figures", "--tape"),
    ("check", "SHOP", "--print"),
    ("moves", "SHOP", "OTHER"),
    ("feet", "SHOP", "cube"),
    ("report", "SHOP", "--effort", "1"),
    ("fix", "SHOP"),
    ("sheet", "SHOP"),
    ("spots", "SHOP", "cube"),
    ("arrange", "SHOP", "--effort", "1", "--write", "FOLDER/kept.yaml", "--no-figures"),
]


@pytest.mark.parametrize("command", WRITERS, ids=lambda c: " ".join(c[:1] + c[2:]))
@pytest.mark.parametrize("fault", [OSError(errno.ENOSPC, "disk is full"), KeyboardInterrupt()])
def test_whatever_writes_tells_a_fault_and_leaves_nothing_half(
    command: tuple[str, ...],
    fault: BaseException,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The moment is the last one at which a new file may still come to nothing."""
    shop, other, out = tmp_path / "shop.yaml", tmp_path / "other.yaml", tmp_path / "drawings"
    shop.write_text(WHOLE, encoding="utf-8")
    other.write_text(WHOLE.replace("at: {x: 4', y: 4'}", "at: {x: 6', y: 6'}"), encoding="utf-8")
    written: list[str] = []

    def fail(_: int) -> None:
        written.append("tried")
        raise fault

    monkeypatch.setattr(os, "fsync", fail)
    names = {
        "SHOP": str(shop),
        "OTHER": str(other),
        "FOLDER/kept.yaml": str(tmp_path / "kept.yaml"),
    }
    status = main([*(names.get(a, a) for a in command), "-o", str(out)])
    told = capsys.readouterr().err
    assert written
    assert told.splitlines()[-1].startswith("floorplan: ")  # progress may stand before it
    assert "fault of the program" not in told
    if isinstance(fault, OSError):
        assert status == 2
        assert "cannot be written" in told
        assert "None" not in told
    else:
        assert status == 130
        assert "interrupted" in told
    assert sorted(p.name for p in tmp_path.iterdir() if p != out) == ["other.yaml", "shop.yaml"]
    assert not out.exists() or [p for p in out.rglob("*") if p.is_file()] == []


# --- killed --------------------------------------------------------------------------------


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_killed_while_writing_the_old_file_stays(step: str, tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_bytes(b"old")
    killed_while(step, path, b"new and longer")
    assert path.read_bytes() == b"old"
    # what was left beside it is in nobody's way
    edit.write_beside_then_replace(path, b"newest")
    assert path.read_bytes() == b"newest"


def test_killed_while_starting_there_is_no_shop_file(tmp_path: Path) -> None:
    path = tmp_path / "new.yaml"
    killed_while("link", path, b"half", only_new=True)
    assert not path.exists()
    edit.write_beside_then_replace(path, b"whole", only_new=True)
    assert path.read_bytes() == b"whole"
    with pytest.raises(FileExistsError):
        edit.write_beside_then_replace(path, b"another", only_new=True)
    assert path.read_bytes() == b"whole"
    assert not [p for p in tmp_path.iterdir() if b"another" in p.read_bytes()]


def test_what_a_killed_run_of_the_same_number_left_is_in_nobodys_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In containers every run may have the same process number."""
    path = tmp_path / "shop.yaml"
    monkeypatch.setattr(os, "getpid", lambda: 7)
    (tmp_path / ".shop.yaml.7.new").write_bytes(b"left over")
    edit.write_beside_then_replace(path, b"whole")
    assert path.read_bytes() == b"whole"


# --- places that cannot be written ---------------------------------------------------------


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "SHOP", "-o", "SHOP/figures"),
        ("check", "SHOP", "-o", "SHOP"),
        ("check", "SHOP", "-o", "/proc/nowhere"),
        ("check", "SHOP", "--no-figures", "--csv", "-o", "SHOP/figures"),
        ("start", "SHOP/new.yaml"),
        ("start", "SHOP"),
        ("start", "FOLDER"),
        ("arrange", "SHOP", "--effort", "1", "--write", "FOLDER"),
        ("arrange", "SHOP", "--effort", "1", "--write", "FOLDER/no/such.yaml"),
    ],
)
def test_a_place_that_cannot_be_written_is_told(
    arguments: tuple[str, ...], shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = [a.replace("SHOP", str(shop)).replace("FOLDER", str(tmp_path)) for a in arguments]
    assert main(given) == 2
    errors = capsys.readouterr().err
    assert errors.startswith("floorplan: ")
    assert "fault of the program" not in errors
    assert len(errors.splitlines()) <= 2
    assert [p.name for p in tmp_path.iterdir()] == ["shop.yaml"]
    assert shop.read_text(encoding="utf-8") == SHOP


# --- two at once ---------------------------------------------------------------------------


def test_two_runs_into_one_folder_leave_whole_files(shop: Path, tmp_path: Path) -> None:
    """Tables and DXF go the same way as drawings, and are made sooner."""
    given = ["check", str(shop), "--no-figures", "--csv", "--dxf", "-o"]
    together, alone = tmp_path / "together", tmp_path / "alone"
    runs = [
        subprocess.Popen(
            [sys.executable, "-m", "floorplan", *given, str(together)],
            cwd=ROOT, stdout=subprocess.DEVNULL,
        )
        for _ in range(2)
    ]  # fmt: skip
    assert main([*given, str(alone)]) == 0
    assert [process.wait(timeout=120) for process in runs] == [0, 0]
    found = {p.name: p.read_bytes() for p in together.iterdir()}
    assert found == {p.name: p.read_bytes() for p in alone.iterdir()}
    assert len(found) >= 2


# --- interrupted ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("command", "moment"),
    [
        (("check", "SHOP"), "floorplan.shop.reader.assemble"),
        (("check", "SHOP"), "floorplan.checks.judge.overall"),
        (("spots", "SHOP", "cube"), "floorplan.search.spots.pairwise_spots"),
        (("largest", "SHOP", "cube"), "floorplan.search.largest.SizeSearch"),
        (("compare", "SHOP", "SHOP"), "floorplan.checks.judge.overall"),
        (("check", "SHOP"), "floorplan.shop.edit.os.fsync"),
    ],
)
def test_an_interrupt_at_any_moment_is_told_in_words(
    command: tuple[str, ...],
    moment: str,
    shop: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def interrupt(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(moment, interrupt)
    out = tmp_path / "drawings"
    given = [a.replace("SHOP", str(shop)) for a in command]
    more = ["--csv", "--no-figures"] if moment.endswith("fsync") else ["--no-figures"]
    assert main([*given, *more, "-o", str(out)]) == 130
    assert capsys.readouterr().err.startswith("floorplan: interrupted")
    assert not out.exists() or list(out.iterdir()) == []


@pytest.mark.parametrize("after", [0.05, 0.1, 0.2, 0.3])
def test_an_interrupt_while_the_program_loads_shows_no_traceback(after: float, shop: Path) -> None:
    """Compiled modules make an error of their own of it, so it may not be raised there."""
    begin = (
        "import os, signal, threading\n"
        "from floorplan.cli import run\n"
        f"threading.Timer({after}, os.kill, (os.getpid(), signal.SIGINT)).start()\n"
        "run()"
    )
    process = subprocess.run(
        [sys.executable, "-c", begin, "check", str(shop), "--no-figures"],
        cwd=ROOT, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert process.returncode in (0, 130)
    if process.returncode == 130:
        assert process.stderr == "floorplan: interrupted before there was anything to show\n"


def test_an_error_made_of_an_interrupt_is_told_as_an_interrupt(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from floorplan.cli import interrupts

    def swallow(*_: object, **__: object) -> None:
        try:
            interrupts.raised(2, None)
        except KeyboardInterrupt:
            raise ImportError("a compiled module did not load") from None

    monkeypatch.setattr(interrupts, "_came", False)
    monkeypatch.setattr("floorplan.shop.reader.assemble", swallow)
    assert main(["check", str(shop), "--no-figures"]) == 130
    assert capsys.readouterr().err.startswith("floorplan: interrupted")
