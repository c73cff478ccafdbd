"""Record what the program of a checkout puts out, and compare two records: proof that no number has changed.

    python benchmarks/record.py make --source PATH/src --out DIR [--quick] [--jobs 2]
    python benchmarks/record.py compare A B [--ignore words]

The program is run only through its command line, so that its modules may be renamed between two records. A
record is a folder of what was written: a folder for each group of commands, with a `NAME.said.txt` for each
command (its exit status and what it printed). Its day is fixed, see `DAY`; what is left out is in `MASKS`.
`compare` exits 0 if both are alike and 1 if not; a quick record may be compared with a whole one. Differences
are of four grades:

    numbers   cut files, JSON, layouts, bills, models, geometry of patterns, and what is printed:
              a number differs by more than 1e-6 and by more than 1e-9 of itself, or another text
    words     drawings, cards, pictures, patterns: another multiset of words (they may stand elsewhere)
    outlines  the same files: another multiset of lines, each counted from its own first point, rounded to
              1e-4 (patterns: 1e-6 mm)
    places    the same lines, but some of them elsewhere on the sheet
    pixels    PNG files
"""

from __future__ import annotations

import argparse
import contextlib
import html.parser
import io
import json
import math
import multiprocessing
import os
import re
import resource
import shutil
import struct
import sys
import time
import traceback
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from record_jobs import Group

sys.path.insert(0, str(Path(__file__).parent))

DAY = (2026, 11, 30)
"""The day the program believes it is, so that records of different days can be compared."""

MASKS = (
    # Digest over a file's own text: it follows from the rest, and a number may differ in its last bit.
    (re.compile(r"strapwright-[0-9a-f]{64}"), "strapwright-<digest>"),
    # Only said where numba has not kept what it compiled.
    (re.compile(r"(?m)^compiling the search.*\n(.*compiled.*\n)?"), ""),
    # As-made record: digests of its own files, which are compared themselves.
    (re.compile(r'(?m)^("[^"]+\.\w+" = )"[0-9a-f]{64}"'), r'\1"<digest>"'),
    # Said only where drafting takes long, on a busy machine sooner.
    (re.compile(r"(?m)^drafting \d+ belts …\n"), ""),
    # Compiled modules take notice of the fixed day's class as they are loaded, once a process.
    (re.compile(r"(?m)^<frozen importlib.*Warning.*\n"), ""),
    # STEP: when it was written.
    (re.compile(r"(FILE_NAME\('[^']*',)'[0-9T:+-]*'"), r"\1'<time>'"),
    # STEP: how many parts this process has put together so far.
    (re.compile(r"(NEXT_ASSEMBLY_USAGE_OCCURRENCE\()'\d+'"), r"\1'<count>'"),
    # PDF: when it was written, and what follows from that.
    (re.compile(r"/(CreationDate|ModDate) ?\([^)]*\)"), r"/\1 (<time>)"),
    (re.compile(r"/ID ?\[[^\]]*\]"), "/ID <digest>"),
)
"""What may differ between two records of one commit, and what stands in its place when they are compared."""

UNCOMPARED = {
    "record.json",  # how long each command took
    ".strapwright-journal",  # a lock, empty once a command has ended
    ".strapwright.sha256",  # digests of PDF and PNG files, which are compared by what they show
}
"""Files left out, by name."""

NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
ABSOLUTE, RELATIVE = 1e-6, 1e-9
STDOUT = "--- stdout ---\n"
"""What stands between a command's errors and what it printed."""
GRADES = ("numbers", "words", "outlines", "places", "pixels")


# --- make -------------------------------------------------------------------------------------------------


def make(source: Path, out: Path, *, quick: bool, jobs: int) -> int:
    """Run all commands with the program of a source tree, and leave what it puts out in a folder.

    Args:
        source: the `src` folder of a checkout; its `examples` and `profiles` are used too.
        out: where to; it must not exist yet, or be an older record.
        quick: a part of the commands, for use after each small change.
        jobs: processes at once.

    Returns:
        Exit status: 1 where the program broke down with a traceback.
    """
    from record_jobs import groups, write_inputs

    if not (source / "strapwright").is_dir():
        raise SystemExit(f"{source}: found no strapwright folder there, expected a checkout's src")
    if out.exists():
        if not (out / "record.json").is_file():
            raise SystemExit(f"{out}: exists and is no record; choose another folder")
        shutil.rmtree(out)
    begun = time.monotonic()
    write_inputs(out / "in", source.parent)
    about: dict[str, object] = {"whole": False, "quick": quick}
    (out / "record.json").write_text(json.dumps(about) + "\n")
    os.environ |= {
        "PYTHONPATH": str(source),
        "PYTHONDONTWRITEBYTECODE": "1",
        "COLUMNS": "110",
        "NO_COLOR": "1",
        "TERM": "dumb",
        "TZ": "UTC",
        "LC_ALL": "C.UTF-8",
        "OMP_NUM_THREADS": "1",
    }
    with ProcessPoolExecutor(
        jobs, mp_context=multiprocessing.get_context("spawn"), initializer=_begin, initargs=(source,)
    ) as pool:
        results = list(pool.map(_run_group, groups(quick=quick), [out] * 1000))
    seconds = {name: taken for times, _ in results for name, taken in times.items()}
    about |= {"whole": True, "processor_seconds": seconds}
    (out / "record.json").write_text(json.dumps(about, indent=1) + "\n")
    broken = [line for _, lines in results for line in lines]
    for line in broken:
        print(f"broke down: {line}")
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    files = sum(path.is_file() for path in out.rglob("*"))
    print(
        f"{len(seconds)} commands, {files} files in {out}; {time.monotonic() - begun:.0f} s, "
        f"{used.ru_utime + used.ru_stime:.0f} s of processor time"
    )
    return 1 if broken else 0


def _begin(source: Path) -> None:
    """Load the program of the source tree in this process, on the fixed day."""
    import datetime

    import pydantic  # noqa: F401 - it looks at the true class of a date as it is loaded

    sys.path.insert(0, str(source))
    datetime.date = _fixed_date(datetime.date)
    import strapwright

    if source.resolve() not in Path(strapwright.__file__).resolve().parents:
        raise SystemExit(f"ran {strapwright.__file__}, expected a program in {source}")


def _fixed_date(true: type) -> type:
    """Return a class of dates for which today is always the same."""

    class Meta(type):
        def __instancecheck__(cls, instance: object) -> bool:
            return isinstance(instance, true)

        def __subclasscheck__(cls, subclass: type) -> bool:
            return issubclass(subclass, true)

    class date(true, metaclass=Meta):  # noqa: N801 - it stands in for that one
        def __new__(cls, *arguments: int, **named: int) -> object:
            return true(*arguments, **named) if cls is date else true.__new__(cls, *arguments, **named)

        @classmethod
        def today(cls) -> object:
            return true(*DAY)

    return date


def _run_group(group: Group, out: Path) -> tuple[dict[str, float], list[str]]:
    """Run a group's commands in a folder of its own; return the seconds each took, and which broke down."""
    folder = out / group.name
    folder.mkdir()
    os.chdir(folder)
    os.environ["XDG_CACHE_HOME"] = str(out / "in" / "cache")
    seconds, broken = {}, []
    for command in group.commands:
        begun = time.process_time()
        status, said, errors = _run(command.arguments, command.typed)
        seconds[f"{group.name}/{command.name}"] = round(time.process_time() - begun, 2)
        asked = f"$ strapwright {' '.join(command.arguments)}\nexit status {status}\n"
        Path(f"{command.name}.said.txt").write_text(f"{asked}{errors}{STDOUT}{said}", "utf-8")
        if "Traceback (most recent call last)" in errors:
            broken.append(f"{group.name}/{command.name}: {errors.strip().splitlines()[-1]}")
    return seconds, broken


def _run(arguments: list[str], typed: str) -> tuple[int | str | None, str, str]:
    """Run one command as `python -m strapwright.cli` does; return exit status, stdout and stderr."""
    streams = sys.stdin, sys.stdout, sys.stderr, sys.argv
    said, errors = (io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True) for _ in range(2))
    sys.stdin, sys.stdout, sys.stderr = io.TextIOWrapper(io.BytesIO(typed.encode()), "utf-8"), said, errors
    sys.argv = ["strapwright", *arguments]
    status: int | str | None = 0
    try:
        from strapwright.cli.__main__ import main

        main()
    except SystemExit as end:
        status = end.code
    except BaseException:  # noqa: BLE001 - it is recorded, whatever it is
        status = "none"
        traceback.print_exc(file=errors)
    finally:
        sys.stdin, sys.stdout, sys.stderr, sys.argv = streams
    return status or 0, *(stream.buffer.getvalue().decode("utf-8", "replace") for stream in (said, errors))


# --- compare ----------------------------------------------------------------------------------------------


def compare(one: Path, other: Path, ignored: set[str]) -> int:
    """Print how two records differ, one line a file; return 0 if they do not and 1 if they do."""
    about = []
    for path in (one, other):
        known = json.loads((path / "record.json").read_text()) if (path / "record.json").is_file() else {}
        if not known.get("whole"):
            raise SystemExit(f"{path}: is no record, or one that was broken off")
        about.append(known["quick"])
    first, second = _files(one), _files(other)
    if about == [True, False]:  # what a quick record does not hold is no difference
        second &= first
    elif about == [False, True]:
        first &= second
    equal, grades = 0, Counter()
    for name in sorted(first & second):
        found = [
            (grade, text) for grade, text in differences(one / name, other / name) if grade not in ignored
        ]
        equal += not found
        for grade, text in found:
            grades[grade] += 1
            print(f"differs {grade:<9} {name}: {text}")
    for word, names in (("missing", first - second), ("new", second - first)):
        for name in sorted(names):
            print(f"{word:<17} {name}")
    parts = [f"{equal} files equal", f"{len(first & second) - equal} differ"]
    parts += [f"{len(first - second)} missing", f"{len(second - first)} new"]
    grade_text = ", ".join(f"{grade} {grades[grade]}" for grade in GRADES if grades[grade])
    print(", ".join(parts) + (f" ({grade_text})" if grade_text else ""))
    return 0 if equal == len(first | second) else 1


def _files(record: Path) -> set[str]:
    """Return the names of a record's files, without those that only follow from the others."""
    return {
        str(path.relative_to(record))
        for path in record.rglob("*")
        if path.is_file() and "cache" not in path.parts and path.name not in UNCOMPARED
    }


def differences(one: Path, other: Path) -> Iterator[tuple[str, str]]:
    """Yield the differences between two files, each with its grade and the first place where they differ."""
    a, b = one.read_bytes(), other.read_bytes()
    if a == b:
        return
    kind = one.suffix.lower()
    if kind == ".png":
        text = _pixels(one, other)
        if text:
            yield "pixels", text
    elif kind == ".pdf":
        digits = 6 if one.name.startswith("pattern") else 4
        yield from _shown(*(_pdf_contents(path, digits) for path in (one, other)))
    elif kind == ".html" or (kind == ".svg" and not one.parent.name.startswith("cut")):
        yield from _shown(*(_markup_contents(masked(text.decode())) for text in (a, b)))
    elif kind in {".stl", ".glb"} and b"\0" in a[:4096] + a[-4096:]:
        text = _bytes_differ(_binary_numbers(a, kind), _binary_numbers(b, kind))
        if text:
            yield "numbers", text
    elif kind == ".step":
        steps = [masked(text.decode()) for text in (a, b)]
        text = _tokens_differ(*steps) and _step_differs(*steps)
        if text:
            yield "numbers", text
    elif kind == ".json":
        text = _values_differ(json.loads(masked(a.decode())), json.loads(masked(b.decode())))
        if text:
            yield "numbers", text
    else:
        said = [masked(text.decode("utf-8", "replace")) for text in (a, b)]
        tails = [text.partition(STDOUT)[2] for text in said]
        if all(tail.startswith(("{", "[")) for tail in tails) and tails[0] != tails[1]:
            text = _values_differ(*(json.loads(tail) for tail in tails))
            if text:
                yield "numbers", text
            said = [text.partition(STDOUT)[0] for text in said]
        exact = one.name.endswith(".txt") or kind in {".csv", ".toml", ".md"}
        text = _tokens_differ(*said, exact=exact)
        if text:
            yield "numbers", text


def masked(text: str) -> str:
    """Return a text without what may differ between two runs of one program."""
    for pattern, replacement in MASKS:
        text = pattern.sub(replacement, text)
    return text


def close(one: float, other: float) -> bool:
    """Say whether two numbers are the same to 1e-6, or to 1e-9 of themselves."""
    return math.isclose(one, other, rel_tol=RELATIVE, abs_tol=ABSOLUTE)


def _tokens_differ(one: str, other: str, *, exact: bool = False) -> str:
    """Return where two texts first differ, numbers by value and all else by letter; "" if they do not.

    Args:
        one: a text.
        other: another.
        exact: whether numbers must be written alike as well, with as many decimals.
    """
    if one == other:
        return ""
    for number, (a, b) in enumerate(zip(one.split("\n"), other.split("\n"), strict=False), 1):
        if a == b:
            continue
        numbers = NUMBER.findall(a), NUMBER.findall(b)
        alike = NUMBER.split(a) == NUMBER.split(b) and all(
            x == y or (close(float(x), float(y)) and _alike(x, y, exact=exact))
            for x, y in zip(*numbers, strict=True)
        )
        if not alike:
            return f"line {number}: {_from_difference(a, b)}"
    if one.count("\n") != other.count("\n"):
        return f"{one.count(chr(10))} lines, {other.count(chr(10))} lines"
    return ""


def _alike(one: str, other: str, *, exact: bool) -> bool:
    """Say whether two numbers are written alike: whole ones are by the letter, so that G1 is not G01."""
    if one.lstrip("+-").isdigit() and other.lstrip("+-").isdigit():
        return one == other
    return not exact or len(one.partition(".")[2]) == len(other.partition(".")[2])


def _from_difference(one: str, other: str) -> str:
    """Return two lines from a little before where they begin to differ."""
    at = next(
        (i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other))
    )
    start = max(0, at - 30)
    return f"{one[start : at + 40]!r} | {other[start : at + 40]!r}"


def _values_differ(one: object, other: object, where: str = "") -> str:
    """Return where two JSON values first differ; "" if they do not."""
    if isinstance(one, dict) and isinstance(other, dict):
        if one.keys() != other.keys():
            return f"{where or 'top'}: keys {sorted(one.keys() ^ other.keys())} in one only"
        return next(filter(None, (_values_differ(one[key], other[key], f"{where}.{key}") for key in one)), "")
    if isinstance(one, list) and isinstance(other, list):
        if len(one) != len(other):
            return f"{where}: {len(one)} items | {len(other)} items"
        pairs = enumerate(zip(one, other, strict=True))
        return next(filter(None, (_values_differ(a, b, f"{where}[{i}]") for i, (a, b) in pairs)), "")
    if isinstance(one, str) and isinstance(other, str):
        text = _tokens_differ(one, other, exact=True)
        return f"{where}: {text}" if text else ""
    numbers = all(isinstance(value, int | float) and not isinstance(value, bool) for value in (one, other))
    same = close(one, other) if numbers else one == other and type(one) is type(other)
    return "" if same else f"{where}: {one!r} | {other!r}"


# --- what is shown: words and outlines --------------------------------------------------------------------

_SHAPES = {
    # What says the place of a shape, what its form: points count from the first one.
    "path": ("", "d"),
    "line": ("", "x1 y1 x2 y2"),
    "rect": ("x y", "width height rx ry"),
    "circle": ("cx cy", "r"),
    "ellipse": ("cx cy", "rx ry"),
    "polyline": ("", "points"),
    "polygon": ("", "points"),
    "use": ("x y", "href"),
    "image": ("x y", "width height href"),
    "img": ("", "src"),
}
_POINT_AT = {"M": (0,), "L": (0,), "T": (0,), "C": (0, 2, 4), "S": (0, 2), "Q": (0, 2), "A": (5,)}
"""Where the points stand among the numbers that follow each letter of a path."""
_LENGTHS = {"C": 6, "S": 4, "Q": 4, "A": 7, "H": 1, "V": 1}

Shapes = Counter[tuple[object, ...]]
"""Shapes with their form first and their place last."""


class _Markup(html.parser.HTMLParser):
    """The words and the shapes of an HTML or SVG file."""

    def __init__(self) -> None:
        super().__init__()
        self.words: Counter[str] = Counter()
        self.shapes: Shapes = Counter()
        self._styled = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {key: value or "" for key, value in attrs}
        self._styled = tag in {"style", "script"}
        for key in ("alt", "title", "aria-label"):
            self.words.update(values.get(key, "").split())
        if tag in _SHAPES:
            place, form = ([values.get(key, "") for key in keys.split()] for keys in _SHAPES[tag])
            if tag in {"line", "polyline", "polygon"}:
                form = [f"M{' '.join(form)}"]
            moved, first = (
                _from_first(" ".join(form))
                if tag in {"path", "line", "polyline", "polygon"}
                else (
                    _rounded(" ".join(form), 4),
                    _rounded(" ".join(place), 4),
                )
            )
            self.shapes[(tag, moved, (first, values.get("transform", "")))] += 1

    def handle_endtag(self, tag: str) -> None:  # noqa: ARG002 - any end will do
        self._styled = False

    def handle_data(self, data: str) -> None:
        if not self._styled:
            self.words.update(data.split())


def _rounded(text: str, digits: int) -> tuple[object, ...]:
    """Return the letters and the rounded numbers of a path's data."""
    letters = "".join(NUMBER.sub(" ", text).replace(",", " ").split())
    return letters, *(round(float(number), digits) + 0.0 for number in NUMBER.findall(text))


def _from_first(data: str) -> tuple[tuple[object, ...], tuple[object, ...]]:
    """Return a path's letters and numbers with its points counted from its first one, and that one."""
    first: tuple[float, ...] = ()
    found: list[object] = []
    for letter, rest in re.findall(r"([A-Za-df-z])([^A-Za-df-z]*)", data):
        numbers = [float(number) for number in NUMBER.findall(rest)]
        if not first:
            first = tuple(numbers[:2])
        length = _LENGTHS.get(letter, 2)
        for index, number in enumerate(numbers):
            at = index % length
            axis = {"H": 0, "V": 1}.get(letter)
            if axis is None:
                axis = next((at - start for start in _POINT_AT.get(letter, ()) if at - start in {0, 1}), None)
            numbers[index] = round(number - (first[axis] if axis is not None else 0.0), 4) + 0.0
        found += [letter, *numbers]
    return tuple(found), tuple(round(number, 4) for number in first)


def _markup_contents(text: str) -> tuple[Counter[str], Shapes]:
    parser = _Markup()
    parser.feed(text)
    parser.close()
    return parser.words, parser.shapes


def _pdf_contents(path: Path, digits: int) -> tuple[Counter[str], Shapes]:
    """Return the words and the lines of a PDF, each line in its page's coordinates.

    Args:
        path: the file.
        digits: decimals of coordinates, in mm.
    """
    import pikepdf
    import pypdfium2

    with contextlib.closing(pypdfium2.PdfDocument(path)) as document:
        words = Counter(word for page in document for word in page.get_textpage().get_text_bounded().split())
    shapes: Shapes = Counter()
    with pikepdf.open(path) as document:
        for number, page in enumerate(document.pages):
            size = tuple(round(float(x) * 25.4 / 72, digits) for x in page.mediabox)
            shapes[("page", size, (number,))] += 1
            _add_lines(pikepdf.parse_content_stream(page), shapes, number, digits)
    return words, shapes


def _add_lines(instructions: object, shapes: Shapes, page: int, digits: int) -> None:
    """Add each painted path of a page, in mm from its lower left corner."""
    matrix, stack, path = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), [], []
    for operands, operator in instructions:
        name = str(operator)
        if name == "q":
            stack.append(matrix)
        elif name == "Q":
            matrix = stack.pop()
        elif name == "cm":
            a, b, c, d, e, f = map(float, operands)
            g, h, i, j, k, m = matrix
            matrix = (
                *(a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j),
                *(e * g + f * i + k, e * h + f * j + m),
            )
        elif name in {"m", "l", "c", "v", "y", "re", "h"}:
            values = [float(value) for value in operands]
            if name == "re":
                x, y, w, h = values
                values = [x, y, x + w, y, x + w, y + h, x, y + h]
            g, h, i, j, k, m = matrix
            places = [
                (value, values[at + 1])
                for at, value in enumerate(values)
                if at % 2 == 0 and at + 1 < len(values)
            ]
            mapped = [(x * g + y * i + k, x * h + y * j + m) for x, y in places]
            path.append((name, *(value * 25.4 / 72 for point in mapped for value in point)))
        elif name in {"S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "n"}:
            if path:
                first = next(point for _, *points in path for point in [points[:2]] if points)
                moved = [
                    (word, *(round(v - first[k % 2], digits) + 0.0 for k, v in enumerate(points)))
                    for word, *points in path
                ]
                shapes[(name, tuple(moved), (page, *(round(v, digits) + 0.0 for v in first)))] += 1
            path = []


def _shown(one: tuple[Counter, Counter], other: tuple[Counter, Counter]) -> Iterator[tuple[str, str]]:
    """Yield how the words, the outlines and their places in two drawings differ."""
    forms = [Counter(shape[:-1] for shape in shown[1].elements()) for shown in (one, other)]
    grades = [("words", one[0], other[0]), ("outlines", *forms)]
    if forms[0] == forms[1]:
        grades.append(("places", one[1], other[1]))
    for grade, a, b in grades:
        if a != b:
            left, right = a - b, b - a
            example = " | ".join(str(next(iter(side), "–"))[:90] for side in (left, right))
            yield grade, f"{left.total()} of {a.total()} gone, {right.total()} of {b.total()} new: {example}"


def _pixels(one: Path, other: Path) -> str:
    """Return how many pixels of two pictures differ; "" if none does."""
    import numpy as np
    from PIL import Image

    a, b = (np.asarray(Image.open(path).convert("RGBA")) for path in (one, other))
    if a.shape != b.shape:
        return f"{a.shape[1]} x {a.shape[0]} | {b.shape[1]} x {b.shape[0]}"
    unlike = (a != b).any(axis=2)
    return f"{unlike.mean():.3%} of the pixels" if unlike.any() else ""


# --- models -----------------------------------------------------------------------------------------------


def _step_differs(one: str, other: str) -> str:
    """Return how the entities of two STEP files differ, whatever their order and their ids."""
    a, b = (
        Counter(
            _rounded(re.sub(r"#\d+", "#", entity), 6) for entity in text.partition("DATA;")[2].split(";\n")
        )
        for text in (one, other)
    )
    if a == b:
        return ""
    left, right = a - b, b - a
    return (
        f"{left.total()} of {a.total()} entities differ: {next(iter(left), '–')} | {next(iter(right), '–')}"
    )


def _binary_numbers(data: bytes, kind: str) -> tuple[str, list[float]]:
    """Return the texts and the numbers of a binary STL or GLB file; those of an STL sorted by triangle."""
    if kind == ".stl":
        count = struct.unpack_from("<I", data, 80)[0]
        triangles = sorted(
            (struct.unpack_from("<12f", data, 84 + 50 * i) for i in range(count)),
            key=lambda triangle: [round(number, 3) + 0.0 for number in triangle],
        )
        return json.dumps(count), [number for triangle in triangles for number in triangle]
    length = struct.unpack_from("<I", data, 12)[0]
    body = data[20 + length + 8 :]
    return data[20 : 20 + length].decode(), list(
        struct.unpack(f"<{len(body) // 4}f", body[: len(body) // 4 * 4])
    )


def _bytes_differ(one: tuple[str, list[float]], other: tuple[str, list[float]]) -> str:
    """Return where the texts or numbers of two models first differ; "" if they do not."""
    text = one[0] != other[0] and _values_differ(*(json.loads(masked(text[0])) for text in (one, other)))
    if text or len(one[1]) != len(other[1]):
        return text or f"{len(one[1])} numbers | {len(other[1])} numbers"
    unlike = [
        (a, b)
        for a, b in zip(one[1], other[1], strict=True)
        # Whole numbers of a GLB's index read as floats next to 0: those must be the same.
        if not (a == b or (close(a, b) and max(abs(a), abs(b)) > 1e-20) or (math.isnan(a) and math.isnan(b)))
    ]
    return f"{len(unlike)} of {len(one[1])} numbers: {unlike[0][0]!r} | {unlike[0][1]!r}" if unlike else ""


def main() -> int:
    """Run the command line of this script."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    commands = parser.add_subparsers(dest="command", required=True)
    making = commands.add_parser("make", help="run the program of a checkout and keep what it puts out")
    making.add_argument("--source", type=Path, required=True, help="the checkout's src folder")
    making.add_argument(
        "--out", type=Path, required=True, help="folder of the record; an older record is replaced"
    )
    making.add_argument("--quick", action="store_true", help="a part of it, for use after each small change")
    making.add_argument("--jobs", type=int, default=2, help="processes at once (default 2)")
    comparing = commands.add_parser("compare", help="compare two records; exit status 1 if they differ")
    comparing.add_argument("one", type=Path)
    comparing.add_argument("other", type=Path)
    comparing.add_argument(
        "--ignore", action="append", choices=GRADES, default=[], help="a grade not to report"
    )
    asked = parser.parse_args()
    if asked.command == "compare":
        return compare(asked.one, asked.other, set(asked.ignore))
    return make(asked.source.resolve(), asked.out.resolve(), quick=asked.quick, jobs=asked.jobs)


if __name__ == "__main__":
    sys.exit(main())
