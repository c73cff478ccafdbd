"""Sending over a serial line, to a simulated controller that is slow, refuses, falls silent or hangs up."""

from __future__ import annotations

import re
import time

import pytest
import serial
from tests.write.controller import controller

from strapwright.core.errors import SendError
from strapwright.machine.profile.tool_keys import Serial
from strapwright.send import stream
from strapwright.send.stream import FileLine, Stream, lines_of, patience_for, signals_noted

pytestmark = pytest.mark.slow

WORDS = Serial(
    baud=115200,
    acknowledgement="ok",
    error="error",
    alarm="LIMIT",
    greeting="BENCH",
    hold="!",
    resume="~",
    reset="\x18",
    buffer=64,
)
PLAIN = Serial(baud=115200)
LINES = [f"G1 X{n}.0000 Y0.0000 F600.0000" for n in range(20)]


def send(made, *, words=WORDS, lines=LINES, patience=None, **hooks):
    with serial.Serial(made.port, words.baud, timeout=0.01, write_timeout=0) as port:
        numbered = [FileLine(number, text) for number, text in enumerate(lines, 101)]
        Stream(port, words, numbered, patience).run(**hooks)


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
    with controller(ahead=18) as made:  # the last line goes alone, once all others are answered
        send(made)
        assert made.lines == LINES
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
            r'refused at line 107 of the file, "G1 X6\.0000 [^"]*" with "error: 9"; hold and reset were '
            r"sent; the machine took line 106(;| and may still do everything up to line \d+;) make sure the "
            r"tool",
        )
        assert len(made.lines) <= 7 + WORDS.buffer // 30


def test_a_refused_line_is_named_where_no_other_is_on_its_way():
    with controller(error_at=7) as made:
        broken(
            made, r'refused at line 107 of the file, "G1 X6', words=WORDS.model_copy(update={"buffer": None})
        )


def test_silence_stops_everything_and_is_named():
    with controller(silent_at=5) as made:
        start = time.monotonic()
        broken(made, r"silent for [01] s at line 105 of the file", patience=0.3)
        assert time.monotonic() - start < 5


def test_slow_answers_within_the_patience_are_waited_for():
    with controller(delay=0.15) as made:
        send(made, lines=LINES[:5], patience=2.0)
        assert made.lines == LINES[:5]


def test_noise_on_the_line_stops_everything():
    with controller(garbage_at=4) as made:
        broken(made, r"the connection is disturbed at line 104 of the file.*look at cable, plugs and baud")


def test_more_answers_than_lines_stop_everything():
    with controller(extra_at=3) as made:
        broken(made, r'answered more lines than it was sent, with "ok", before line 1\d\d of the file')


def test_a_line_that_is_cut_says_to_use_the_machines_own_stop():
    with controller(hang_up_at=6) as made, pytest.raises(SendError) as caught:
        send(made, patience=3.0)
    assert "the line was lost at line" in str(caught.value)
    assert "hold and reset could not be sent: use the machine's own stop NOW" in str(caught.value)


def test_a_machine_that_does_not_answer_is_sent_nothing():
    words = WORDS.model_copy(update={"startup_s": 0.2})
    with controller(mute=True) as made:
        match = r"did not answer 'ok' to an empty line within 0\.2 s.*no line of the file was sent"
        broken(made, match, words=words)
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
    with controller(delay=0.02) as made:
        match = r"stopped at the keyboard at line 1\d\d of the file"
        broken(made, match, key=lambda: "stop" if len(made.lines) > 3 else None)
        assert len(made.lines) < 20


def test_whatever_breaks_in_here_holds_and_resets_the_machine():
    def fail(progress):
        raise RuntimeError("a window that is gone")

    with controller(delay=0.02) as made:
        with pytest.raises(RuntimeError, match="a window that is gone"):
            send(made, progress=fail)
        assert wait_for(lambda: made.words == ["hold", "reset"])


def test_an_alarm_holds_and_resets_and_says_what_the_machine_has_taken():
    with controller(alarm_at=6, ahead=6) as made:
        broken(
            made,
            r'reports an alarm, "LIMIT 2 struck", at line 107 of the file, "G1 X6\.0000 [^"]*"; hold and '
            r"reset were sent; the machine took line 106 and may still do everything up to line 10[78]; "
            r"make sure",
        )


def test_an_alarm_that_stands_already_lets_nothing_begin():
    with controller(other="LIMIT 2 struck") as made:
        broken(made, 'reports an alarm, "LIMIT 2 struck", before it begins.*no line of the file was sent')
        assert made.lines == []


def test_a_machine_that_restarts_when_its_port_opens_is_greeted_until_it_answers():
    said = []
    with controller(startup=2.3) as made:
        send(made, progress=lambda p: said.append(p.said))
        assert made.lines == LINES
    assert not any(said)  # its greeting is known, and the noise of its start is none of the run's


def test_a_machine_that_restarts_on_the_way_is_stopped():
    with controller(restart_at=6) as made:
        broken(made, r'has restarted, "BENCH 3 is up", at line 106 of the file')


def test_one_answer_too_many_is_noticed_before_the_file_ends():
    with controller(twice_at=5, delay=0.01) as made:
        # How soon it shows hangs on how far the machine lags behind; before the last line at the latest.
        broken(
            made, r'answered more lines than it was sent, with "ok", before line 1(0\d|1\d|20) of the file'
        )
        assert LINES[-1] not in made.lines


def test_a_machine_that_talks_all_the_time_does_not_keep_a_file_from_ending():
    import os
    import threading

    with controller() as made:
        chatter = threading.Event()

        def talk():
            while not chatter.wait(0.05):
                with open(made.far_end, "wb", buffering=0, closefd=False) as far:
                    far.write(b"[idle]\n")

        talker = threading.Thread(target=talk)
        talker.start()
        try:
            send(made)
        finally:
            chatter.set()
            talker.join()
        assert made.lines == LINES
        assert os.isatty(made.far_end)


@pytest.mark.parametrize("answer", ["ok", "done 4", "%"])
def test_without_words_of_its_own_a_machine_is_sent_one_line_after_any_answer(answer):
    with controller(other=answer, delay=0.002) as made:
        send(made, words=PLAIN)
        assert made.lines == LINES
        assert made.most == max(len(line) for line in LINES) + 1


def test_without_words_of_its_own_it_is_told_that_nothing_stops_the_machine():
    presses = iter([None] * 40 + ["stop"])
    with controller(delay=0.1) as made:
        with pytest.raises(SendError, match="names no word that stops this machine: use its own stop NOW"):
            send(made, words=PLAIN, key=lambda: next(presses, None))
        assert made.words == []


def test_without_a_reset_word_a_hold_alone_is_not_called_a_stop():
    words = Serial(baud=9600, hold="!", resume="~")
    presses = iter([None] * 40 + ["stop"])
    with controller(delay=0.1) as made:
        with pytest.raises(SendError, match="hold was sent, but the profile names no reset word: use"):
            send(made, words=words, key=lambda: next(presses, None))
        assert wait_for(lambda: made.words == ["hold"])


LONG = [f"G1 X{n % 10}.{n:04} Y0.0000 F600.0000" for n in range(4000)]


def when_full(made, pressed):
    """A key that is pressed once the machine has read nothing for so long that the line is full."""
    since = []

    def key():
        if not made.stalled.is_set():
            return None
        since.append(time.monotonic())
        return pressed if since[-1] - since[0] > 0.7 else None

    return key


def once(key):
    presses = []

    def pressed():
        if presses or key() is None:
            return None
        presses.append(key())
        return presses[0]

    return pressed


def test_hold_and_reset_come_before_everything_that_waits_in_a_full_line():
    words = WORDS.model_copy(update={"buffer": 65536})
    with controller(stall_at=3) as made:
        with pytest.raises(SendError, match="hold and reset were sent") as caught:
            send(made, words=words, lines=LONG, key=when_full(made, "stop"))
        made.reading.set()
        assert wait_for(lambda: made.words == ["hold", "reset"])
    on_its_way = len(LONG[0]) * (int(re.search(r"up to line (\d+)", str(caught.value))[1]) - 100)
    # A pseudo-terminal's far end holds 4096 characters that have arrived already; the rest was thrown away.
    assert on_its_way > 3 * 4096
    assert made.after_stall.endswith(b"!\x18")
    assert len(made.after_stall) <= 4096 + 2


def test_hold_and_reset_pass_an_output_that_was_told_to_wait():
    import termios

    with controller() as made:
        stopped = []

        def key():
            if len(made.lines) < 3:
                return None
            if not stopped:
                stopped.append(time.monotonic())
                termios.tcflow(made.near_end, termios.TCOOFF)
            return "stop" if time.monotonic() - stopped[0] > 0.2 else None

        broken(made, "stopped at the keyboard", lines=LONG, key=key)


def test_a_hold_that_the_line_does_not_take_stops_the_run():
    words = WORDS.model_copy(update={"buffer": 65536})
    with controller(stall_at=3) as made:
        pressed = once(when_full(made, "hold"))
        with pytest.raises(SendError, match=r"did not take hold or resume.*hold and reset were sent"):
            send(made, words=words, lines=LONG, key=pressed)
        made.reading.set()
        assert wait_for(lambda: made.words[-2:] == ["hold", "reset"])


def test_a_program_that_was_not_run_for_a_while_does_not_go_on(monkeypatch):
    monkeypatch.setattr(stream, "_STOOD_STILL", 0.3)
    naps = iter([0.5])
    with controller(delay=0.01) as made:
        match = r"the computer slept, or did not run this, for [01] s at line 1\d\d of the file"
        broken(made, match, key=lambda: time.sleep(next(naps, 0)) if len(made.lines) > 3 else None)
        assert len(made.lines) < 20


def test_signals_that_would_end_or_suspend_are_noted_and_then_given_back():
    import os
    import signal

    before = {number: signal.getsignal(number) for number in signal.valid_signals()}
    for name in ("SIGTERM", "SIGHUP", "SIGQUIT", "SIGTSTP", "SIGINT", "SIGUSR1", "SIGALRM", "SIGABRT"):
        with signals_noted() as signalled:
            assert signalled() == ""
            os.kill(os.getpid(), getattr(signal, name))
            assert signalled() == name
    assert {number: signal.getsignal(number) for number in signal.valid_signals()} == before


def test_lines_know_their_number_in_the_file_and_how_far_it_is_then():
    text = (
        "(time: 60 s, estimated)\nG21\n(run 1 of 2, 0 of 2 parts done: cut, outline of a)\n"
        "G1 X10 F600\n(run 2 of 2, 1 of 2 parts done: cut, outline of b)\nG1 X40\nM2\n"
    )
    got = [(line.number, line.text, line.parts, round(line.seconds, 3)) for line in lines_of(text)]
    assert got == [
        (2, "G21", 0, 0),
        (4, "G1 X10 F600", 0, 15),
        (6, "G1 X40", 1, 60),
        (7, "M2", 2, 60),
    ]


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
