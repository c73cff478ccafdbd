"""The five verbs as one calls them from Python or from the command line: read, draft, nest, plan, write.

A name is loaded from the room it is at home in when it is first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.notebook import drawn_by

if TYPE_CHECKING:
    from strapwright.api.cards import BenchCard as BenchCard, card as card, keep_record as keep_record
    from strapwright.api.cut_files import (
        Cut as Cut,
        check_windows_kept as check_windows_kept,
        cut as cut,
        left_from_earlier as left_from_earlier,
        plan as plan,
    )
    from strapwright.api.handouts import Handout as Handout, handout as handout
    from strapwright.api.layouts import (
        LAYOUT_FILES as LAYOUT_FILES,
        STRIP_FILES as STRIP_FILES,
        clearance_for as clearance_for,
        layout_files as layout_files,
        layout_text as layout_text,
        nest as nest,
        strip_files as strip_files,
    )
    from strapwright.api.photos import (
        FlatPhoto as FlatPhoto,
        PhotoAsked as PhotoAsked,
        PhotoHide as PhotoHide,
        mark_sheets as mark_sheets,
        measure_photos as measure_photos,
    )
    from strapwright.api.schemas import schema as schema
    from strapwright.api.views import (
        cut_picture as cut_picture,
        drawing as drawing,
        fit_picture as fit_picture,
        picture as picture,
        picture_kind as picture_kind,
        strip_picture as strip_picture,
    )
    from strapwright.core.errors import SendError as SendError, StrapwrightError as StrapwrightError
    from strapwright.core.findings import Finding as Finding, Severity as Severity
    from strapwright.drawing.kerf_plot import kerf_plot as kerf_plot
    from strapwright.drawing.layout.hide_thumbnails import sheet_html as sheet_html, sheet_svg as sheet_svg
    from strapwright.files.atomic_write import check_writable as check_writable, write_whole as write_whole
    from strapwright.geometry.contour import Contour as Contour
    from strapwright.job.draft import draft as draft
    from strapwright.job.end_pieces import only_ends as only_ends
    from strapwright.job.fit_record import (
        Finished as Finished,
        fit_file as fit_file,
        fits_of as fits_of,
        read_fit as read_fit,
        record_fit as record_fit,
    )
    from strapwright.job.orders import Orders as Orders, read_orders as read_orders
    from strapwright.job.spec.job import is_batch as is_batch, read_job as read_job
    from strapwright.machine.hide_pose import touch_at as touch_at
    from strapwright.machine.profile.machine import read_machine as read_machine
    from strapwright.machine.test_pieces.kerf_record import Recorded as Recorded, kerf_record as kerf_record
    from strapwright.machine.test_pieces.trial import trial as trial
    from strapwright.nesting.hide.file import read_hide as read_hide, read_hides as read_hides
    from strapwright.nesting.layout.file import read_layout as read_layout, read_start as read_start
    from strapwright.nesting.layout.types import Clearance as Clearance
    from strapwright.nesting.remnant import (
        check_remnants as check_remnants,
        old_remnants as old_remnants,
        remnant_files as remnant_files,
    )
    from strapwright.nesting.stock import read_stock as read_stock
    from strapwright.nesting.strips.assign import nest_strips as nest_strips
    from strapwright.nesting.strips.file import read_strips as read_strips
    from strapwright.nesting.strips.leftovers import left_files as left_files, left_names as left_names
    from strapwright.nesting.strips.plan_file import read_strip_wastes as read_strip_wastes
    from strapwright.nesting.strips.types import StripRules as StripRules
    from strapwright.send.cut_file import check_sendable as check_sendable, copy_to as copy_to, send as send
    from strapwright.solid.model import model as model
    from strapwright.write.cut_files import write_plan as write  # noqa: F401 - one of the five verbs
    from strapwright.write.pattern.pattern import pattern as pattern
    from strapwright.write.test_pieces import (
        Coupon as Coupon,
        kerf_coupon as kerf_coupon,
        trial_files as trial_files,
    )

_HOMES: Final = {
    "strapwright.api.cards": "BenchCard card keep_record",
    "strapwright.api.cut_files": "Cut check_windows_kept cut left_from_earlier plan",
    "strapwright.api.handouts": "Handout handout",
    "strapwright.api.layouts": "LAYOUT_FILES STRIP_FILES clearance_for layout_files layout_text nest "
    "strip_files",
    "strapwright.api.photos": "FlatPhoto PhotoAsked PhotoHide mark_sheets measure_photos",
    "strapwright.api.schemas": "schema",
    "strapwright.api.views": "cut_picture drawing fit_picture picture picture_kind strip_picture",
    "strapwright.core.errors": "SendError StrapwrightError",
    "strapwright.core.findings": "Finding Severity",
    "strapwright.drawing.kerf_plot": "kerf_plot",
    "strapwright.drawing.layout.hide_thumbnails": "sheet_html sheet_svg",
    "strapwright.files.atomic_write": "check_writable write_whole",
    "strapwright.geometry.contour": "Contour",
    "strapwright.job.draft": "draft",
    "strapwright.job.end_pieces": "only_ends",
    "strapwright.job.fit_record": "Finished fit_file fits_of read_fit record_fit",
    "strapwright.job.orders": "Orders read_orders",
    "strapwright.job.spec.job": "is_batch read_job",
    "strapwright.machine.hide_pose": "touch_at",
    "strapwright.machine.profile.machine": "read_machine",
    "strapwright.machine.test_pieces.kerf_record": "Recorded kerf_record",
    "strapwright.machine.test_pieces.trial": "trial",
    "strapwright.nesting.hide.file": "read_hide read_hides",
    "strapwright.nesting.layout.file": "read_layout read_start",
    "strapwright.nesting.layout.types": "Clearance",
    "strapwright.nesting.stock": "read_stock",
    "strapwright.nesting.remnant": "check_remnants old_remnants remnant_files",
    "strapwright.nesting.strips.assign": "nest_strips",
    "strapwright.nesting.strips.file": "read_strips",
    "strapwright.nesting.strips.leftovers": "left_files left_names",
    "strapwright.nesting.strips.plan_file": "read_strip_wastes",
    "strapwright.nesting.strips.types": "StripRules",
    "strapwright.send.cut_file": "check_sendable copy_to send",
    "strapwright.solid.model": "model",
    "strapwright.write.cut_files": "write_plan",
    "strapwright.write.pattern.pattern": "pattern",
    "strapwright.write.test_pieces": "Coupon kerf_coupon trial_files",
}
"""The same names by their modules, for those who run; a test holds both lists together."""

_HOME: Final = {name: home for home, names in _HOMES.items() for name in names.split()}


def __getattr__(name: str) -> Any:
    own = "write_plan" if name == "write" else name
    if own not in _HOME:
        raise AttributeError(f"module 'strapwright.api' has no attribute {name!r}")
    return _load(_HOME[own], own)


def __dir__() -> list[str]:
    return sorted(_HOME)


def _load(module: str, name: str) -> Any:
    return getattr(import_module(module), name)


def _svg(module: str, name: str, value: object, **options: str) -> str:
    """Return what a drawer of a room draws of a value, as SVG."""
    return str(_load("strapwright.drawing.svg", "svg")(_load(module, name)(value, **options)))


# What notebooks show of these values; nothing is drawn, nor its drawer loaded, before it is asked for.
drawn_by("Draft", lambda drafted: _svg("strapwright.drawing.belt.job_drawing", "drawing", drafted))
drawn_by(
    "Layout", lambda layout: _svg("strapwright.drawing.layout.picture", "picture", layout, title="layout")
)
drawn_by("CutPlan", lambda planned: _svg("strapwright.drawing.plan", "plan_picture", planned))
