"""A machine's kerf test piece, as it is asked for on the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from strapwright.core.errors import StrapwrightError, UnitError
from strapwright.core.units import parse_length
from strapwright.page.forms.field import units_of, with_unit
from strapwright.page.sheet.cut_form import fumes_not_taken
from strapwright.page.sheet.page_words import finding_words, in_page_words
from strapwright.rules.leather import Tannage
from strapwright.rules.safety import FUME_RISK, doubtful_tannages
from strapwright.write.test_pieces import Coupon, kerf_coupon, measuring_lines

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.machine.profile.machine import Machine


def piece_of(machine: Machine, asked: Mapping[str, str]) -> Coupon:
    """Return a machine's kerf test piece as its form asks for it.

    Args:
        machine: the machine.
        asked: tannage and thickness of the leather, units of a bare number and of the sheet, and what was
            typed to take the risk of fumes.

    Raises:
        UnitError: the thickness is none.
        StrapwrightError: it cannot be cut: the leather is too thick, its fumes could hurt someone.
    """
    tannage = _tannage(asked)
    doubtful = doubtful_tannages([tannage], machine.kind)
    taken = bool(doubtful) and not fumes_not_taken(asked.get("fumes", ""), doubtful)
    return kerf_coupon(machine, tannage, _thickness(asked), accept_fume_risk=taken, units=units_of(asked))


def piece_seen(machine: Machine, asked: Mapping[str, str]) -> dict[str, Any]:
    """Return what a test piece will be: what is measured on it and what to know; or what is wrong.

    Args:
        machine: the machine.
        asked: as for `piece_of`.
    """
    tannage = _tannage(asked)
    doubtful = doubtful_tannages([tannage], machine.kind)
    seen: dict[str, Any] = {
        "doubtful": doubtful,
        "risk": f"{FUME_RISK.format(tannages=doubtful)}." if doubtful else "",
        "typed": asked.get("fumes", ""),
        "wrong": (),
        "steps": (),
        "findings": (),
    }
    typed = asked.get("fumes", "")
    if doubtful and (refused := fumes_not_taken(typed, doubtful)):
        return seen | {"wrong": (refused,) if typed else ("Confirm the risk first.",)}
    try:
        made = piece_of(machine, asked)
    except StrapwrightError as error:
        return seen | {"wrong": in_page_words(str(error)).splitlines()}
    units = units_of(asked)
    lines = measuring_lines(machine, tannage, _thickness(asked), units, blade_test=made.blade_test)
    return seen | {
        "steps": [in_page_words(line) for line in lines],
        "findings": finding_words(made.plan.findings, units),
        "files": len(made.files.texts),
        "checked_to": made.files.checked_to,
    }


def _tannage(asked: Mapping[str, str]) -> Tannage:
    try:
        return Tannage(asked.get("material", ""))
    except ValueError:
        return Tannage.VEGETABLE


def _thickness(asked: Mapping[str, str]) -> float | None:
    typed = asked.get("thickness", "").strip()
    if not typed:
        return None
    try:
        return parse_length(with_unit(typed, units_of(asked)), ounces=True)
    except UnitError as error:
        raise UnitError(f"thickness: {error}") from error
