"""The five verbs as one calls them from Python or from the command line: read, draft, nest, plan, write."""

from __future__ import annotations

from strapwright.api.cards import BenchCard, card, keep_record
from strapwright.api.cut_files import Cut, check_windows_kept, cut, plan, write
from strapwright.api.kerf import (
    Coupon,
    Drive,
    Recorded,
    TrialFiles,
    kerf_coupon,
    kerf_plot,
    kerf_record,
    kerf_trial,
)
from strapwright.api.layouts import (
    check_remnants,
    clearance_for,
    layout_files,
    nest,
    old_remnants,
    remnant_files,
)
from strapwright.api.output import LAYOUT_FILES, check_folder, left_from_earlier, write_files
from strapwright.api.read import (
    read_hide,
    read_hides,
    read_layout,
    read_machine,
    read_start,
    read_stock,
    schema,
    stock_sheet,
)
from strapwright.api.send_files import check_sendable, copy_to, send
from strapwright.api.views import cut_picture, drawing, model, pattern, picture, picture_kind
from strapwright.core.errors import SendError
from strapwright.job.draft import draft
from strapwright.job.ends_only import only_ends
from strapwright.job.orders import Orders, read_orders
from strapwright.job.spec.job import is_batch, read_job
from strapwright.machine.hide_pose import touch_at

__all__ = [
    "LAYOUT_FILES",
    "BenchCard",
    "Coupon",
    "Cut",
    "Drive",
    "Orders",
    "Recorded",
    "SendError",
    "TrialFiles",
    "card",
    "check_folder",
    "check_remnants",
    "check_sendable",
    "check_windows_kept",
    "clearance_for",
    "copy_to",
    "cut",
    "cut_picture",
    "draft",
    "drawing",
    "is_batch",
    "keep_record",
    "kerf_coupon",
    "kerf_plot",
    "kerf_record",
    "kerf_trial",
    "layout_files",
    "left_from_earlier",
    "model",
    "nest",
    "old_remnants",
    "only_ends",
    "pattern",
    "picture",
    "picture_kind",
    "plan",
    "read_hide",
    "read_hides",
    "read_job",
    "read_layout",
    "read_machine",
    "read_orders",
    "read_start",
    "read_stock",
    "remnant_files",
    "schema",
    "send",
    "stock_sheet",
    "touch_at",
    "write",
    "write_files",
]
