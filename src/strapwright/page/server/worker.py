"""What takes long, in a process of its own: nests and cut files, one at a time for each job."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import threading
import time
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import NestError, StrapwrightError
from strapwright.page.forms.page_words import in_page_words
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT, OUT, RUNNING, digest_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from multiprocessing.connection import Connection
    from multiprocessing.context import ForkServerContext, SpawnContext
    from multiprocessing.process import BaseProcess
    from pathlib import Path

    from strapwright.job.draft import Draft
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.solver.nest import NestProgress
    from strapwright.page.sheet.cut_form import CutForm
    from strapwright.write.cut_files import CutFiles

STOP: Final = "stop"
"""Sent to a process that is to end early with the best it has."""

_REDRAWN: Final = 1.0
"""Least seconds between two layouts that are written while a nest goes on."""

_AT_MOST: Final = 0.25
"""Least seconds between two reports of how far a search is."""

_LOADED: Final = (
    __name__,
    "strapwright.nesting.solver.nest",
    "strapwright.nesting.solver.solve",
    "strapwright.nesting.bound.cp_sat",
    "strapwright.write.cut_files",
)
"""What is loaded once for all processes, which then begin at once."""


@dataclass(frozen=True)
class NestTask:
    """A nest to be run.

    Args:
        job: the job's file.
        hides: the hides' files, in the order they are to be used up.
        machine: the machine's file or a shipped profile's name, for kerf and lead-in; empty for none.
        seconds: to search.
        steps: of the search instead of a time; None goes by time.
        seed: of the random choices.
        go_on: whether to go on from the job's layout, what is locked in it staying.
        kerf: width of the cut given by hand, mm; None takes the measured one.
    """

    job: Path
    hides: tuple[Path, ...]
    machine: str = ""
    seconds: float = 10.0
    steps: int | None = None
    seed: int = 0
    go_on: bool = False
    kerf: float | None = None


@dataclass(frozen=True)
class CutTask:
    """Cut files to be written of a job's layout.

    Args:
        job: the job's file.
        hides: files of the layout's hides.
        machine: the machine's file.
        form: what was asked of them.
        accept_fume_risk: whether the risk was read and confirmed for this job.
    """

    job: Path
    hides: tuple[Path, ...]
    machine: Path
    form: CutForm
    accept_fume_risk: bool = False


Task = NestTask | CutTask


@dataclass
class Worker:
    """Runs tasks in processes of their own; a job has at most one, and another one is refused meanwhile.

    Args:
        report: called, in a thread, with a job's name and what its process says.
        keep: called likewise with the last of it, while the job still counts as running, to write what was
            made; returns what is to be reported then.
    """

    report: Callable[[str, dict[str, Any]], None]
    keep: Callable[[str, dict[str, Any]], dict[str, Any]]
    _running: dict[str, tuple[BaseProcess, Connection]] = field(default_factory=dict)
    _starting: threading.Lock = field(default_factory=threading.Lock)

    def start(self, name: str, task: Task) -> bool:
        """Begin a task for a job; return False where one is running."""
        with self._starting:  # two tabs may ask at once
            if name in self._running:
                return False
            context = _context()
            mine, theirs = context.Pipe()
            process = context.Process(target=_run, args=(task, theirs), daemon=True)
            process.start()
            theirs.close()
            self._running[name] = (process, mine)
        self.report(name, {"stage": "before", "words": "Beginning"})
        threading.Thread(target=self._listen, args=(name, process, mine), daemon=True).start()
        return True

    def is_running(self, name: str) -> bool:
        """Whether something is running for a job."""
        return name in self._running

    def stop(self, name: str) -> None:
        """Have a job's process end with the best it has."""
        running = self._running.get(name)
        if running is not None:
            with contextlib.suppress(OSError):  # it has just ended by itself
                running[1].send(STOP)

    def close(self) -> None:
        """End all processes: each notices that its pipe is closed."""
        for process, pipe in list(self._running.values()):
            pipe.close()
            process.join(2.0)
            if process.is_alive():
                process.kill()
        self._running.clear()

    def _listen(self, name: str, process: BaseProcess, pipe: Connection) -> None:
        said: dict[str, Any] = {}
        try:
            while True:
                try:
                    said = pipe.recv()
                except TypeError:  # the pipe was closed while it waited
                    break
                if said["stage"] in ("done", "failed"):
                    said = self.keep(name, said)
                    self._running.pop(name, None)
                self.report(name, said)
        except (EOFError, OSError):
            pass
        process.join()
        if self._running.get(name, (None, None))[0] is process:  # not another one begun since
            self._running.pop(name)
        if said.get("stage") not in ("done", "failed"):
            self.report(name, {"stage": "failed", "lines": ["It ended before it was done; try again."]})


def _context() -> ForkServerContext | SpawnContext:
    """Return how a process is begun: where it can be, as a copy of one that has loaded what all need."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(_LOADED))
    return context


def _run(task: Task, pipe: Connection) -> None:
    """Carry a task out in this process, and say how far it is."""
    import _thread

    def listen() -> None:
        try:
            while pipe.recv() == STOP:
                _thread.interrupt_main()
        except (EOFError, OSError):
            os._exit(1)  # whoever asked for it has gone

    try:
        threading.Thread(target=listen, daemon=True).start()  # it may be stopped from here on
        said = _nested(task, pipe) if isinstance(task, NestTask) else _cut(task, pipe)
        pipe.send({"stage": "done", **said})
    except StrapwrightError as error:
        pipe.send({"stage": "failed", "lines": in_page_words(str(error)).splitlines()})
    except KeyboardInterrupt:
        pipe.send({"stage": "failed", "lines": ["Stopped before there was anything to keep."]})


def _tell(pipe: Connection, stage: str, words: str) -> None:
    """Say what is done before or after the work itself."""
    said = in_page_words(words)
    pipe.send({"stage": stage, "words": said[:1].upper() + said[1:]})


def _nested(task: NestTask, pipe: Connection) -> dict[str, Any]:
    from strapwright import api
    from strapwright.files.atomic_write import sealed
    from strapwright.page.layout_view import result_words
    from strapwright.page.layouts import read_basis, zones_kept_clear

    basis = read_basis(task.job, task.hides, task.machine, task.kerf)
    before = task.job.parent / LAYOUT
    layout = api.nest(
        basis.draft,
        basis.hides,
        basis.clearance,
        job=basis.job,
        time_limit=task.seconds,
        steps=task.steps,
        seed=task.seed,
        start=api.read_start(before, basis.draft, basis.hides) if task.go_on else None,
        avoid=zones_kept_clear(before, basis.hides),
        progress=_Watch(task, pipe, basis.draft),
        stage=partial(_tell, pipe, "before"),
        ending=partial(_tell, pipe, "after"),
    )
    _tell(pipe, "after", "drawing the picture and writing the layout")
    files = api.layout_files(basis.draft, layout)
    return {
        "what": "nest",
        "words": result_words(layout),
        "files": {name: sealed(content) for name, content in files.items()},
    }


class _Watch:
    """Says how far a nest is, and writes its best layout each second if it is another one.

    Args:
        task: the nest.
        pipe: to whoever asked for it.
        draft: of the job.
    """

    def __init__(self, task: NestTask, pipe: Connection, draft: Draft) -> None:
        self._task, self._pipe, self._draft = task, pipe, draft
        self._said = self._looked = 0.0
        self._lies: object = None
        self._count = 0
        self._words = ""

    def __call__(self, how_far: NestProgress) -> None:
        now = time.monotonic()
        if now - self._said < _AT_MOST:
            return
        self._said = now
        if how_far.layout is not None and now - self._looked >= _REDRAWN:
            self._looked = now
            self._keep(how_far.layout())
        self._pipe.send(
            {
                "stage": "nesting",
                "elapsed": round(how_far.elapsed, 1),
                "seconds": None if self._task.steps else self._task.seconds,
                "best": self._count,
                "words": self._words,
            }
        )

    def _keep(self, layout: Layout) -> None:
        from strapwright import api
        from strapwright.nesting.layout.verify import verify
        from strapwright.page.layout_view import result_words

        self._words = result_words(layout)
        lies = [(one.part.id, one.hide, one.placement) for one in layout.placed]
        if lies == self._lies:
            return
        try:
            verify(layout)
        except NestError:  # straps not drawn together yet: the next one may be sound
            return
        text = api.layout_text(self._draft, layout)
        api.write_whole({self._task.job.parent / RUNNING: text}, force=True)
        self._lies = lies
        self._count += 1


def _cut(task: CutTask, pipe: Connection) -> dict[str, Any]:
    from strapwright import api
    from strapwright.core.findings import grouped_findings
    from strapwright.core.text import first_few
    from strapwright.files.atomic_write import sealed
    from strapwright.page.sheet.cut_view import INDEX, cut_index, read_index

    form, out = task.form, task.job.parent / OUT
    job = check_programs(api.read_job(task.job))
    hides = api.read_hides(task.hides)
    machine = api.read_machine(str(task.machine))
    layout_digest = digest_of((task.job.parent / LAYOUT).read_bytes())
    made = api.cut(
        job,
        hides,
        machine,
        formats=form.formats,
        layout=lambda drafted: api.read_layout(task.job.parent / LAYOUT, drafted, hides),
        kerf=form.kerf,
        accept_fume_risk=task.accept_fume_risk,
        partial=form.partial,
        long_edges_by_hand=form.long_edges_by_hand,
        touches=[api.touch_at(at, own, machine) for at, own in form.touches],
        window=form.window,
        holes=dict(form.holes),
        units=form.units,
        stage=partial(_tell, pipe, "before"),
    )
    told = []
    for one, subjects in grouped_findings(made.findings_as_read):
        of = f"{first_few(subjects, 3)}: " if subjects else ""
        told.append(f"{one.severity}: {of}{in_page_words(f'{one.what} {one.do}')}")
    if made.files is None or made.plan is None:
        left = [f"{one.part.id}: {one.reason}" for one in made.layout.unplaced]
        lines = ["Not everything is placed, so nothing was written; tick Partial to write the rest.", *left]
        return {"what": "cut", "files": [], "lines": lines}
    api.check_windows_kept(out, made)
    again = form.window is not None
    texts: Mapping[str, str | bytes] = made.files.texts
    if not again:
        texts = {**texts, **api.layout_files(made.draft, made.layout)}
    index = cut_index(
        read_index(task.job) if again else {},
        {name: sealed(text) for name, text in texts.items()},
        layout=layout_digest,
        job=made.draft.digest,
        machine=task.machine.name,
        **({} if again else _proved(made.files, made.plan)),
    )
    files = {out / name: text for name, text in {**texts, INDEX: index}.items()}
    api.write_whole(files, remedy="move it elsewhere, then write the cut files again")
    return {"what": "cut", "files": sorted(texts), "lines": told}


def _proved(files: CutFiles, plan: CutPlan) -> dict[str, str | int]:
    """Return what was proved of cut files, in a line, and in how many windows they are cut."""
    paths = sum(proof.paths_read for proof in files.proofs.values())
    words = [f"{len(files.proofs)} files read back, {paths} paths checked to {files.checked_to}"]
    if files.blade_deviation_mm is not None:
        words.append(f"blade strays by at most {files.blade_deviation_mm:.4f} mm")
    if files.windows:
        gap = max(proof.greatest_gap_mm for proof in files.windows)
        words.append(f"windows put together: everything is cut, greatest gap {gap:.6f} mm")
    windows = max((sheet.window.count for sheet in plan.sheets if sheet.window is not None), default=1)
    return {"proved": "; ".join(words), "windows": windows}
