"""A sketch runs in a process of its own: what it does there is one line here, or a drawing that is kept."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner
from tests.job.jobs import BELT, LEATHER

from strapwright.cli.main import command
from strapwright.core.errors import PartError
from strapwright.parts.sketch import process as sketch_process
from strapwright.parts.sketch.process import answered, draw

SQUARE = "import cadquery as cq\ndef part():\n    return cq.Workplane().rect(60, 30)\n"
GOOD = b'{"runs": [{"vertices": [[0,0,0],[9,0,0],[9,9,0]], "closed": true}], "faces": 0}'


@pytest.fixture(autouse=True)
def cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "strapwright" / "sketches"


@pytest.fixture
def no_modeller(tmp_path, monkeypatch):
    """An empty module in the modeller's place, which takes 3 s to load, for sketches that draw nothing."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "empty" / "cadquery.py").write_text("")
    monkeypatch.syspath_prepend(tmp_path / "empty")
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(filter(None, sys.path)))


class TestWhatTheCodeRaises:
    """In this process, as the new one sees it: no modeller is needed for a sketch that fails."""

    @pytest.mark.parametrize(
        ("body", "message"),
        [
            ("raise KeyboardInterrupt", "line 2: KeyboardInterrupt"),
            ("raise GeneratorExit('gone')", "line 2: GeneratorExit: gone"),
            ("raise SystemExit", "line 2: SystemExit"),
            ("raise type('Odd', (BaseException,), {})('x\\ny')", "line 2: Odd: x y"),
            (
                "raise BaseExceptionGroup('two', [KeyboardInterrupt(), SystemExit()])",
                "line 2: BaseExceptionGroup",
            ),
            (
                "raise type('Mute', (Exception,), {'__str__': lambda self: 1 / 0})()",
                "line 2: Mute, whose own text raises another error",
            ),
            (
                "raise type('Exit', (BaseException,), {'__str__': lambda self: exit(0)})()",
                "line 2: Exit, whose own text raises another error",
            ),
            ("raise SyntaxError", "not valid Python: None"),
            (
                "raise type('Deep', (SyntaxError,), {'lineno': property(lambda self: 1 / 0)})()",
                "raises what cannot be put in words",
            ),
            ("return part()", "line 2: RecursionError"),
            ("raise ValueError('long ' * 200)", "line 2: ValueError: long long"),
            ("return [0] * (1 << 60)", "needs more than 1.1 GB of memory"),
        ],
    )
    def test_it_is_one_line(self, body, message):
        answer = answered(None, f"def part():\n    {body}\n", "plate.py", "part", ())
        assert answer["error"].startswith(message)
        assert len(answer["error"].splitlines()) == 1
        assert len(answer["error"]) < 300


class TestWhatItDoesToItsProcess:
    @pytest.mark.usefixtures("no_modeller")
    @pytest.mark.parametrize(
        ("body", "message"),
        [
            (
                "import os; os._exit(0)",
                r"part\(\) ended Python with status 0; expected it to return a drawing",
            ),
            ("import os; os._exit(3)", r"part\(\) ended Python with status 3; expected it to return"),
            ("import os; os.abort()", r"brought Python down \(SIGABRT\)"),
            ("import ctypes; ctypes.string_at(0)", r"brought Python down \(SIGSEGV\)"),
            ("import os; os.closerange(0, 100); os._exit(0)", "ended Python with status 0"),
            ("raise KeyboardInterrupt", "line 2: KeyboardInterrupt"),
        ],
    )
    def test_it_is_one_line(self, body, message):
        with pytest.raises(PartError, match=message) as caught:
            draw(f"def part():\n    {body}\n", "plate.py", "part", ())
        assert str(caught.value).startswith("plate.py: ")
        assert len(str(caught.value).splitlines()) == 1

    @pytest.mark.slow
    def test_it_has_so_much_memory_beside_the_modellers_own(self):
        body = "x = []\n    while True: x.append(bytearray(1 << 24))"
        with pytest.raises(PartError, match=r"^plate\.py: needs more than 1\.1 GB of memory$"):
            draw(f"import cadquery\ndef part():\n    {body}\n", "plate.py", "part", ())

    @pytest.mark.usefixtures("no_modeller")
    def test_one_that_never_ends_is_ended_with_all_it_started(self, monkeypatch, tmp_path):
        monkeypatch.setattr(sketch_process, "DRAW_SECONDS", 1.0)
        body = (
            "import subprocess, sys, time, signal\n"
            "signal.signal(signal.SIGTERM, signal.SIG_IGN)\n"
            f"child = subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(600)'])\n"
            f"open({str(tmp_path / 'pid')!r}, 'w').write(str(child.pid))\n"
            "def part():\n    while True: time.sleep(1)\n"
        )
        with pytest.raises(PartError, match=r"plate\.py: part\(\) was ended after 1 s; expected a drawing"):
            draw(body, "plate.py", "part", ())
        pid = int((tmp_path / "pid").read_text())
        for _ in range(100):
            try:
                os.kill(pid, 0)
                state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
            except (ProcessLookupError, FileNotFoundError):
                return
            if state == "Z":
                return
            time.sleep(0.05)
        pytest.fail("what the sketch started still runs")

    @pytest.mark.usefixtures("no_modeller")
    def test_what_it_prints_is_shown_without_control_characters_and_not_without_end(self, capsys):
        with pytest.raises(PartError, match="expected"):
            draw("print('\\x1b[2Jred', flush=True)\nprint('y' * 10**6)\n", "plate.py", "part", ())
        shown = capsys.readouterr()
        assert shown.out == ""
        assert "plate.py: \\x1b[2Jred" in shown.err
        assert "\x1b" not in shown.err
        assert len(shown.err) < 25_000


class TestWhatIsKept:
    @pytest.mark.slow
    def test_a_drawing_is_kept_by_text_and_arguments_and_run_once(self, cache, capsys, monkeypatch):
        source = (
            "import cadquery as cq\ndef part(*size):\n    return cq.Workplane().rect(60, *(size or (30,)))\n"
        )
        first, faces = draw(source, "plate.py", "part", ())
        assert "running plate.py with CadQuery" in capsys.readouterr().err
        again, faces_again = draw(source, "other.py", "part", ())
        assert capsys.readouterr().err == ""
        assert faces == faces_again
        assert [run.vertices.tolist() for run in first] == [run.vertices.tolist() for run in again]
        (kept,) = cache.iterdir()
        asked = []
        monkeypatch.setattr(sketch_process, "_ask", lambda *new: asked.append(new) or kept.read_bytes())
        draw(source, "plate.py", "part", (20.0,))
        draw(source + "\n", "plate.py", "part", ())
        assert [(text, size) for text, _, _, size in asked] == [(source, (20.0,)), (source + "\n", ())]
        assert len(list(cache.iterdir())) == 3

    @pytest.mark.parametrize(
        "spoilt",
        [
            "",
            "{",
            "[1]",
            '{"runs": [], "faces": 0}',
            '{"runs": [{"vertices": [[NaN, 0, 0]], "closed": true}], "faces": 0}',
            '{"runs": [{"vertices": [[1, 2]], "closed": true}], "faces": 0}',
            '{"runs": [{"vertices": [["a", 2, 3]], "closed": true}], "faces": 0}',
            '{"runs": 3, "faces": "x"}',
            "[" * 100_000,
        ],
    )
    def test_what_is_kept_and_spoilt_is_drawn_anew(self, cache, spoilt, monkeypatch):
        monkeypatch.setattr(sketch_process, "_ask", lambda *_: GOOD)
        draw(SQUARE, "plate.py", "part", ())
        (kept,) = cache.iterdir()
        kept.write_text(spoilt)
        runs, _ = draw(SQUARE, "plate.py", "part", ())
        assert runs[0].area == pytest.approx(40.5)
        assert kept.read_bytes() == GOOD

    def test_where_nothing_can_be_kept_it_is_drawn_all_the_same(self, monkeypatch, tmp_path):
        monkeypatch.setattr(sketch_process, "_ask", lambda *_: GOOD)
        (tmp_path / "file").write_text("")
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file" / "below"))
        runs, _ = draw(SQUARE, "plate.py", "part", ())
        assert runs[0].area == pytest.approx(40.5)

    def test_the_oldest_go_where_many_are_kept(self, cache, monkeypatch):
        monkeypatch.setattr(sketch_process, "_ask", lambda *_: GOOD)
        monkeypatch.setattr(sketch_process, "MOST_KEPT", 3)
        for size in range(6):
            draw(SQUARE, "plate.py", "part", (float(size),))
        assert len(list(cache.iterdir())) == 3


@pytest.mark.usefixtures("no_modeller")
class TestFromTheCommandLine:
    @pytest.mark.parametrize("csv", [False, True])
    def test_it_is_told_that_a_sketch_runs_for_toml_and_csv_alike(self, tmp_path, csv):
        (tmp_path / "tip.py").write_text("def sketch(width):\n    import os; os._exit(0)\n")
        job = tmp_path / ("job.csv" if csv else "job.toml")
        if csv:
            head = "id,size.trousers,buckle.for_strap,buckle.bar_diameter,buckle.frame_depth"
            head += ",leather.thickness,leather.tannage,tip.sketch"
            job.write_text(f"{head}\nann,36,36 mm,5 mm,30 mm,3.4 mm,vegetable,tip.py\n")
        else:
            job.write_text(LEATHER + BELT + 'tip = { sketch = "tip.py" }\n')
        result = CliRunner().invoke(command, ["draft", str(job)])
        assert result.exit_code == 1, result.output
        assert "running tip.py with CadQuery" in result.stderr
        (said,) = [line for line in result.stderr.splitlines() if "ended Python with status 0" in line]
        assert said.startswith("error: ")
        assert "Traceback" not in result.output

    @pytest.mark.usefixtures("hears_ctrl_c")
    def test_ctrl_c_ends_a_sketch(self, tmp_path):
        (tmp_path / "tip.py").write_text("import os, time\nopen('begun', 'w').close()\ntime.sleep(600)\n")
        (tmp_path / "job.toml").write_text(LEATHER + BELT + 'tip = { sketch = "tip.py" }\n')
        run = subprocess.Popen(
            [sys.executable, "-m", "strapwright.cli.main", "draft", "job.toml"],
            cwd=tmp_path,
            stderr=subprocess.PIPE,
            text=True,
        )
        while not (tmp_path / "begun").exists():
            assert run.poll() is None, run.communicate()
            time.sleep(0.01)
        run.send_signal(signal.SIGINT)
        _, said = run.communicate()
        assert run.returncode == 1
        assert "stopped; every file is as it was" in said
        assert "Traceback" not in said


def test_a_digest_tells_text_function_and_arguments_apart():
    made = {
        sketch_process._digest(*asked)
        for asked in (("a", "b", ()), ("ab", "", ()), ("a", "b", (1.0,)), ("a", "b", (1.5,)), ("", "ab", ()))
    }
    assert len(made) == 5
    assert json.dumps(sorted(made))
