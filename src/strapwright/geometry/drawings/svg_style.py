"""What style sheets and attributes say of an SVG element: whether it is shown, and what is not read of it.

Sources, from memory: W3C, CSS Cascading and Inheritance Level 3, 6 (order of the cascade); Scalable Vector
Graphics (SVG) 2, 5.7 (conditional processing), 6.7 (which properties shape an element), 11.2 (display and
visibility).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterator
    from xml.etree import ElementTree as ET

SPACE: Final = "{http://www.w3.org/2000/svg}"

LANGUAGE: Final = "en"
"""What `systemLanguage` is compared with: a viewer set to English shows the drawing so."""

_SHAPING: Final = {
    "x", "y", "width", "height", "cx", "cy", "r", "rx", "ry", "d", "transform", "transform-origin",
    "transform-box", "translate", "rotate", "scale", "perspective", "zoom", "all", "content-visibility",
}  # fmt: skip
_SHAPING_KINDS: Final = ("offset", "animation")
_ATTRIBUTES: Final = ("transform-origin", "transform-box")
"""Attributes beside those of the shapes themselves that move a shape."""
_COVERING: Final = ("clip-path", "clip", "mask", "mask-image", "filter")
"""Properties and attributes that show less or more of a shape than its outline; none does not."""
_VENDOR: Final = re.compile(r"-(?:webkit|moz|ms|o)-")
_NOTHING: Final = {"none", "auto", "initial", "unset", "revert"}
_DRAWN_SO: Final = {
    "inline", "block", "inline-block", "inline-table", "list-item", "run-in", "compact", "marker", "table",
    "flex", "grid", "inherit", "initial", "unset", "revert",
}  # fmt: skip
_HARMLESS_RULES: Final = {"charset", "font-face", "page", "namespace", "keyframes"}


@dataclass(frozen=True)
class Shown:
    """How an element is shown.

    Args:
        visible: what `visibility` hands down to what is in it.
        hidden: why nothing in it is shown, in words; empty where it is.
    """

    visible: bool = True
    hidden: str = ""


class Styles:
    """The style sheets of one drawing.

    Args:
        root: its ``<svg>`` element.

    Raises:
        ValueError: a style sheet has what is not read.
    """

    def __init__(self, root: ET.Element) -> None:
        from cssselect2 import ElementWrapper, Matcher, SelectorError, compile_selector_list

        self._of: dict[ET.Element, list[dict[str, tuple[str, bool]]]] = {}
        """The rules of the style sheets that hold for an element, the strongest last."""
        matcher, any_rule = Matcher(), False
        for sheet in root.iter():
            if sheet.tag not in ("style", f"{SPACE}style"):
                continue
            if (media := sheet.get("media", "all")).strip() not in ("", "all", "screen"):
                raise ValueError(f'found <style media="{media}">, which is not read; take it out')
            for prelude, content in _rules("".join(sheet.itertext())):
                declared = dict(_declarations(content))
                if not declared:
                    continue
                try:
                    selectors = compile_selector_list(prelude)
                except SelectorError as error:
                    raise ValueError(f"a selector in <style> cannot be read ({error})") from error
                for selector in selectors:
                    if selector.pseudo_element is None:
                        matcher.add_selector(selector, declared)
                        any_rule = True
        if any_rule:
            for wrapped in ElementWrapper.from_xml_root(root).iter_subtree():
                if found := [match[-1] for match in matcher.match(wrapped)]:
                    self._of[wrapped.etree_element] = found

    def shown(self, element: ET.Element, above: Shown) -> Shown:
        """Return how an element is shown within one that is shown.

        Raises:
            ValueError: a property changes its shape or place, which is not read.
        """
        won: dict[str, tuple[str, bool]] = {}
        for layer in (*self._of.get(element, ()), dict(_declarations(element.get("style", "")))):
            won |= {name: own for name, own in layer.items() if own[1] or not won.get(name, ("", False))[1]}
        css = {name: value for name, (value, _) in won.items()}
        of_own: dict[str, str] = {name: element.get(name, "") for name in (*_ATTRIBUTES, *_COVERING)}
        for name, value in css.items():
            plain = _VENDOR.sub("", name)
            if plain in _SHAPING or plain.startswith(_SHAPING_KINDS):
                raise ValueError(
                    f'found "{name}: {value}" in its style, which is not read; write it as an attribute, or '
                    "convert the object to a path"
                )
            if plain in _COVERING:
                of_own[plain] = value
        for name, value in of_own.items():
            if value.strip() and value.strip() not in _NOTHING:
                raise ValueError(
                    f'found {name} "{value}", which is not read; release it, or convert the object to a path'
                )
        display = css.get("display", element.get("display", "inline")).strip().casefold()
        visibility = css.get("visibility", element.get("visibility", "inherit")).strip().casefold()
        if display == "none":
            return replace(above, hidden="display: none")
        if display not in _DRAWN_SO:
            raise ValueError(f'found display "{display}", expected inline or none')
        if why := condition(element):
            return replace(above, hidden=why)
        if visibility in ("hidden", "collapse"):
            return Shown(visible=False)
        if visibility in ("visible", "initial"):
            return Shown()
        if visibility not in ("inherit", "unset"):
            raise ValueError(f'found visibility "{visibility}", expected visible or hidden')
        return Shown(above.visible)


def condition(element: ET.Element) -> str:
    """Return why an element's conditions keep it from being shown, in words; empty where they do not."""
    languages = element.get("systemLanguage")
    if languages is not None:
        asked = [language.strip().casefold() for language in languages.split(",")]
        if not any(one == LANGUAGE or one.startswith(f"{LANGUAGE}-") for one in asked):
            return f"systemLanguage {languages.strip() or 'empty'}"
    if element.get("requiredExtensions") is not None:
        return "requiredExtensions"
    return ""


def _rules(text: str) -> Iterator[tuple[Any, Any]]:
    """Yield the selector and the content of every rule of a style sheet."""
    import tinycss2

    for rule in tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True):
        if rule.type == "qualified-rule":
            yield rule.prelude, rule.content
        elif rule.type == "at-rule" and rule.lower_at_keyword not in _HARMLESS_RULES:
            raise ValueError(
                f"found @{rule.at_keyword} in <style>, which is not read; save as plain SVG, its properties "
                "as attributes"
            )


def _declarations(content: Any) -> Iterator[tuple[str, tuple[str, bool]]]:
    """Yield name, value and weight of every sound declaration; a viewer passes over the others too."""
    import tinycss2

    for one in tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True):
        if one.type == "declaration":
            yield one.lower_name, (tinycss2.serialize(one.value).strip(), one.important)
        elif one.type != "error":
            raise ValueError("found a rule within a rule in <style>, which is not read")
