"""`cornerword layout`: what it prints of a file, and how it says what is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from layout.test_layout_file import GOOD

from coach.app.cli import main


def printed(capsys: pytest.CaptureFixture[str], path: Path) -> tuple[list[str], str]:
    assert main(["layout", str(path)]) == 0
    out, err = capsys.readouterr()
    return out.splitlines(), err


def test_it_says_what_each_packet_gives(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_text(GOOD)
    lines, err = printed(capsys, path)
    assert err == ""
    assert max(map(len, lines)) <= 100
    assert lines[0] == "layout      Rig bridge"
    expected = [
        'packet      motion: 300 to 400 bytes, 43 57 at 0, u8 3 or 4 at 6, "é" at 2',
        "            makes the samples",
        "  t                       8-11  f32",
        "  speed                  12-15  f32        km/h, absent at -1",
        "  gear                      20  u8         - 1",
        "  steer                  24-27  f32        x -7.85",
        "  position               32-43  3 f32      y-up left-handed",
        "  wheel_speed          100-115  4 f32      x radius 0.33 or 0.34 m, RL RR FL FR",
        "  tyre_temp            120-164  12 u8      left-mid-right",
        "  on_track                  30  u8         bit 3, inverted",
        "  car_width         always 1.94",
        "  session_kind              39  u8         2 names",
        "packet      cars: 500 bytes",
        "            its values hold for 20 s",
        "            of the player's car, one of 20 of 10 bytes from 20, by i16 at 16:",
        'packet      chat: 4 bytes or more, "chat" at 0',
        "            known and passed over",
        "channels    17",
    ]
    assert [line for line in expected if line not in lines] == []


def test_a_packet_that_another_hides_is_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    hidden = '[[packet]]\nname = "late\\u202e"\nlength = 350\nmatch = [{ offset = 0, bytes = "43 57" }]\n'
    first = '[[packet]]\nname = "first"\nlength = [300, 400]\n[packet.channels]\nt = { offset = 8, type = "f32" }\n'
    path.write_text(f"layout = 1\n{first}{hidden}", encoding="utf-8")
    with pytest.raises(AssertionError):
        printed(capsys, path)
    assert "line break or a control character" in capsys.readouterr().err
    path.write_text(f"layout = 1\n{first}{hidden}".replace("\\u202e", ""), encoding="utf-8")
    lines, err = printed(capsys, path)
    assert "packet      late: 350 bytes, 43 57 at 0" in lines
    assert err == 'layout: packet "late" is never read, another before it takes its packets: move it up\n'


@pytest.mark.parametrize("text", ["", "layout = 1", "layout = 3", "\x00", "[[packet]]"])
def test_a_file_that_is_not_right_is_one_line_and_code_2(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str
) -> None:
    path = tmp_path / "rig\n.toml"
    path.write_text(text)
    assert main(["layout", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith("cornerword: layout ")
    assert "rig\\n.toml: " in err


def test_no_file_at_all(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["layout", str(tmp_path / "none.toml")]) == 2
    assert "cannot be read (No such file or directory); name a TOML file" in capsys.readouterr().err
