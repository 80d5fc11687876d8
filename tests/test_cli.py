"""The command line as a new user meets it: answers, exit status, nothing lost, no traceback."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from floorplan.cli.main import main

SHOP = """\
# a comment that must survive
shop: small room
tape: 0
room: {size: [16', 14'], height: 8'}
doors:
  door: {wall: south, at: 6', width: 36 in, clear width: 34 in, height: 80 in,
         swing: out, leads to: outside}
equipment:
  bench:
    width: 60 in   # measured twice
    depth: 24 in
    height: 34 in
    at: {x: 20 in, y: 60 in, turn: 0}
    zones: {front: {side: front, depth: 24 in}}
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    path = tmp_path / "room.yaml"
    path.write_text(SHOP, encoding="utf-8")
    return path


def run(*arguments: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "floorplan", *arguments],
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
        timeout=120,
    )


def test_check_passes_with_status_0(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(shop), "--no-figures"]) == 0
    out = capsys.readouterr().out
    assert "passes" in out
    assert "no approval" in out or "not an approval" in out


def test_check_fails_with_status_1(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shop.write_text(SHOP.replace("y: 60 in", "y: 20 in"), encoding="utf-8")
    assert main(["check", str(shop), "--no-figures"]) == 1
    assert "FAILS" in capsys.readouterr().out


def test_json_has_the_settled_keys(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", str(shop), "--no-figures", "--json"])
    data = json.loads(capsys.readouterr().out)
    assert list(data)[:8] == [
        "version", "command", "shop", "verdict", "findings", "measures", "cautions", "files",
    ]  # fmt: skip
    assert set(data["findings"][0]) == {
        "check", "rule", "kind", "about", "task", "verdict", "measured", "needed", "margin",
        "error", "unit", "certified", "assumed", "where", "line", "message", "source",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["chek"], "did you mean `check`?"),
        (["check"], "SHOP"),
        (["check", "none.yaml"], "no such file"),
        (["arrange", "none.yaml", "--effort", "many"], "whole number"),
        (["arrange", "none.yaml", "--sed", "3"], "--sed"),
        (["start"], "FILE"),
    ],
)
def test_wrong_arguments_end_with_status_2(
    arguments: list[str], words: str, tmp_path: Path
) -> None:
    done = run(*arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_start_writes_a_file_that_check_reads(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    assert main(["start", str(path)]) == 0
    assert main(["check", str(path), "--no-figures"]) in (0, 1)
    before = path.read_bytes()
    done = run("start", str(path))
    assert done.returncode == 2
    assert "stays" in done.stderr
    assert path.read_bytes() == before


def test_arrange_writes_a_layout_and_keeps_comments(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "new.yaml"
    status = main(
        ["arrange", str(shop), "--no-figures", "--effort", "40", "--write", str(target), "--json"]
    )
    assert status == 0
    data = json.loads(capsys.readouterr().out)
    text = target.read_text(encoding="utf-8")
    assert "# a comment that must survive" in text
    assert "# measured twice" in text
    assert main(["check", str(target), "--no-figures", "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert again["verdict"] == data["layouts"][0]["verdict"] == "passes"


def test_arrange_does_not_overwrite_another_file(shop: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.yaml"
    other.write_text("precious", encoding="utf-8")
    done = run("arrange", str(shop), "--no-figures", "--effort", "20", "--write", str(other))
    assert done.returncode == 2
    assert other.read_text(encoding="utf-8") == "precious"


def test_figures_go_where_they_are_told(shop: Path, tmp_path: Path) -> None:
    out = tmp_path / "drawn"
    assert main(["check", str(shop), "-o", str(out)]) == 0
    assert {p.suffix for p in out.iterdir()} == {".svg", ".pdf", ".png"}


def test_an_unwritable_folder_is_one_clear_message(shop: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file, not a folder", encoding="utf-8")
    done = run("check", str(shop), "-o", str(blocked / "inside"))
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_closed_pipe_is_no_fault(shop: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "floorplan", "sources"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.read(10)
    process.stdout.close()
    complaint = process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=60) == 0
    assert complaint == b""


def test_interrupt_gives_the_best_so_far(shop: Path, tmp_path: Path) -> None:
    process = subprocess.Popen(
        [
            sys.executable, "-m", "floorplan", "arrange", str(shop), "--no-figures", "--json",
            "--effort", "1000000",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # whoever runs the tests in the background may ignore the interrupt: ask for the usual one
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    assert process.stderr is not None
    assert "first layout without overlaps" in process.stderr.readline()
    time.sleep(0.3)
    os.kill(process.pid, signal.SIGINT)
    out, errors = process.communicate(timeout=60)
    assert process.returncode == 130, errors
    data = json.loads(out)
    assert data["interrupted"] is True
    assert data["layouts"]


def test_reads_standard_input(capsys: pytest.CaptureFixture[str], monkeypatch) -> None:
    import io

    class Piped:
        buffer = io.BytesIO(SHOP.encode())

    monkeypatch.setattr(sys, "stdin", Piped())
    assert main(["check", "-", "--no-figures"]) == 0
    assert "small room" in capsys.readouterr().out


def test_who_reads_no_further_is_not_told_of_a_fault(tmp_path: Path) -> None:
    """The pipe is closed before anything is written into it."""
    process = subprocess.Popen(
        [sys.executable, "-c", "from floorplan.cli import run; run()", "sources"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=tmp_path,
    )  # fmt: skip
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    told = process.stderr.read()
    process.stderr.close()
    assert process.wait() == 0
    assert told == ""
