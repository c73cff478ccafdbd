"""Sending over a serial line, to a simulated controller that is slow, refuses, falls silent or hangs up."""

from __future__ import annotations

import time

import pytest
import serial
from tests.write.controller import controller

from strapwright.errors import SendError
from strapwright.machine.tool_tables import Serial
from strapwright.write import stream
from strapwright.write.stream import Stream, patience_for

WORDS = Serial(baud=115200, hold="!", resume="~", reset="\x18", buffer=64)
LINES = [f"G1 X{n}.0000 Y0.0000 F600.0000" for n in range(20)]


def send(made, *, words=WORDS, lines=LINES, patience=None, **hooks):
    with serial.Serial(made.port, words.baud, timeout=0.01, write_timeout=2.0) as port:
        Stream(port, words, lines, patience).run(**hooks)


def wait_for(condition) -> bool:
    end = time.monotonic() + 5
    while time.monotonic() < end and not condition():
        time.sleep(0.005)
    return condition()


@pytest.mark.parametrize("delay", [0.0, 0.01])
def test_every_line_arrives_once_in_order_and_the_buffer_is_never_overrun(delay):
    seen = []
    with controller(delay=delay) as made:
        send(made, progress=seen.append)
        assert made.lines == LINES
        assert made.words == []
        assert made.most <= WORDS.buffer
    assert [p.answered for p in seen] == list(range(1, 21))
    assert {p.lines for p in seen} == {20}


def test_lines_are_sent_ahead_so_that_the_machine_never_waits():
    with controller(delay=0.01) as made:
        send(made)
        assert made.most > max(len(line) for line in LINES) + 1


def broken(made, match, **how):
    """Sending breaks off, and the machine was held and reset at once."""
    with pytest.raises(SendError, match=match):
        send(made, **how)
    assert wait_for(lambda: made.words[-2:] == ["hold", "reset"])
    return len(made.lines)


def test_a_refused_line_stops_everything_and_is_named():
    with controller(error_at=7) as made:
        broken(
            made,
            r'refused at line 7 of 20, "G1 X6\.0000 Y0\.0000 F600\.0000" with "error: 9"; hold and reset',
        )
        assert len(made.lines) <= 7 + WORDS.buffer // 30


def test_silence_stops_everything_and_is_named():
    with controller(silent_at=5) as made:
        start = time.monotonic()
        broken(made, r"silent for 0 s at line 5 of 20", patience=0.3)
        assert time.monotonic() - start < 5


def test_slow_answers_within_the_patience_are_waited_for():
    with controller(delay=0.15) as made:
        send(made, lines=LINES[:5], patience=2.0)
        assert made.lines == LINES[:5]


def test_noise_on_the_line_stops_everything():
    with controller(garbage_at=4) as made:
        broken(made, r"the line is disturbed at line 4 of 20.*look at cable, plugs and baud")


def test_more_answers_than_lines_stop_everything():
    with controller(extra_at=3) as made:
        broken(made, r"answered more lines than it was sent at line \d+ of 20")


def test_a_line_that_is_cut_says_to_use_the_machines_own_stop():
    with controller(hang_up_at=6) as made, pytest.raises(SendError) as caught:
        send(made, patience=3.0)
    assert "the line was lost at line" in str(caught.value)
    assert str(caught.value).endswith("use the machine's own stop NOW")


def test_a_machine_that_does_not_answer_is_sent_nothing(monkeypatch):
    monkeypatch.setattr(stream, "_GREETING", 0.2)
    with controller(mute=True) as made:
        broken(made, r"did not answer 'ok' to an empty line within 0\.2 s.*no line of the file was sent")
        assert made.lines == []


def test_what_the_machine_says_besides_is_passed_on():
    said = []
    with controller(chatter="[feed 100]") as made:
        send(made, lines=LINES[:3], progress=lambda p: said.append(p.said))
    assert said.count("[feed 100]") == 3


def test_hold_and_go_on_and_nothing_is_sent_meanwhile():
    presses = iter([None] * 5 + ["hold"] + [None] * 30 + ["hold"])
    states = []
    with controller(delay=0.002) as made:
        send(made, key=lambda: next(presses, None), progress=lambda p: states.append(p.held), patience=0.25)
        assert made.words == ["hold", "resume"]
        assert made.lines == LINES
    assert True in states
    assert states[-1] is False


def test_stop_holds_and_resets_at_once():
    presses = iter([None] * 4 + ["stop"])
    with controller(delay=0.02) as made:
        broken(made, r"stopped at the keyboard at line \d+ of 20", key=lambda: next(presses, None))
        assert len(made.lines) < 20


def test_an_interrupt_holds_and_resets_at_once():
    def interrupt():
        raise KeyboardInterrupt

    with controller(delay=0.02) as made:
        broken(made, "stopped at the keyboard", key=interrupt)


def test_a_line_longer_than_the_buffer_is_never_begun():
    with controller() as made:
        with pytest.raises(
            SendError, match="a line of 80 characters is longer than the machine's buffer, 64"
        ):
            send(made, lines=["G1" + "0" * 77])
        assert made.lines == []


def test_patience_outlasts_the_longest_move():
    assert patience_for(["G21", "G0 X0 Y0", "G1 X600 Y0 F600", "G1 X0"]) == pytest.approx(70)
    assert patience_for(["G20", "G0 X100 Y0"]) == pytest.approx(10 + 2540 / 50)
    assert patience_for(["G21", "G0 X0 Y0", "G3 X100 Y0 I50 J0 F600"]) == pytest.approx(
        10 + 10 * 3.14159 / 2, abs=1e-3
    )
