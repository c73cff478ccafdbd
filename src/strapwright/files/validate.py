"""From plain tables to a validated model, or every mistake of the file, one line each."""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Self, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError, model_validator
from pydantic_core import InitErrorDetails, PydanticCustomError

from strapwright.core.errors import FileProblems
from strapwright.files.fields import mistake
from strapwright.files.messages import path_text, place_of, said, unknown_key

if TYPE_CHECKING:
    from collections.abc import Callable

    from pydantic import GetJsonSchemaHandler, ModelWrapValidatorHandler
    from pydantic_core import CoreSchema, ErrorDetails

    from strapwright.files.messages import Loc

M = TypeVar("M", bound=BaseModel)

Faults = Iterator[tuple["Loc", str | PydanticCustomError]]
"""Mistakes as a check yields them: where in its table, and what is wrong there."""


class Strict(BaseModel):
    """Base of everything read from a file: frozen, and an unknown key is a mistake.

    What stands below a key as its docstring describes it in the JSON Schema.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Faults:
        """Yield what is wrong with the keys of one table taken together.

        It sees the table as it was written, so that these mistakes are reported beside those of
        single keys rather than after them; values may be of any type.

        Args:
            table: the table as read, not validated; keys that hold nothing are left out.

        Yields:
            Where, from this table on, and what is wrong there.
        """
        del table  # a table without keys that bear on one another
        yield from ()

    @model_validator(mode="wrap")
    @classmethod
    def _with_cross_checks(cls, table: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        found: list[InitErrorDetails] = []
        if isinstance(table, Mapping):
            given = {key: value for key, value in table.items() if value is not None}
            found = [
                InitErrorDetails(type=mistake(what) if isinstance(what, str) else what, loc=loc, input=table)
                for loc, what in cls.cross_checks(given)
            ]
        try:
            value = handler(table)
        except ValidationError as error:
            if not found:
                raise
            found = [_again(detail) for detail in error.errors(include_url=False)] + found
        else:
            if not found:
                return value
        raise ValidationError.from_exception_data(cls.__name__, found)

    @classmethod
    def __get_pydantic_json_schema__(cls, core: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        schema = handler(core)
        keys = handler.resolve_ref_schema(schema)["properties"]
        for kind in reversed(cls.__mro__):
            if issubclass(kind, Strict):
                for name, words in key_docstrings(kind):
                    keys[cls.model_fields[name].alias or name]["description"] = words
        return schema


@dataclass(frozen=True)
class Mistake:
    """One mistake in a file, before its place is put in words.

    Args:
        loc: keys and indices (from 0) from the file's root.
        text: what was found and what was expected.
        other: another place of the file that ``{other}`` in the text stands for.
    """

    loc: Loc
    text: str
    other: Loc = ()

    @property
    def missing(self) -> bool:
        """Whether nothing stands at that place."""
        return self.text.startswith("missing")

    def line(self, source: str, place: Callable[[Loc], str] = path_text) -> str:
        """Return the mistake as one line.

        Args:
            source: the file's name as the person gave it.
            place: puts a place in words; by default ``belt[2].buckle.opening``, counted from 1.
        """
        text = self.text.replace("{other}", place(self.other)) if self.other else self.text
        return ": ".join(part for part in (source, place(self.loc), text) if part)


def validate(model: type[M], data: object, source: str, *, context: Mapping[str, Any] | None = None) -> M:
    """Validate what was read from a file.

    Args:
        model: what the file should hold.
        data: what it holds: dicts, lists, text and numbers.
        source: the file's name as the person gave it.
        context: passed to the model's validators.

    Returns:
        The model.

    Raises:
        FileProblems: all mistakes of the file, one line each.

    Example:
        >>> from pydantic import create_model
        >>> from strapwright.files.fields import PositiveLength
        >>> Buckle = create_model("Buckle", __base__=Strict, opening=(PositiveLength, ...))
        >>> validate(Buckle, {"opening": "wide"}, "catalogue.toml")
        Traceback (most recent call last):
        ...
        strapwright.core.errors.FileProblems: catalogue.toml: opening: found "wide",
        expected a length such as "44 mm" or "1 3/4 in"
    """
    value, mistakes = attempt(model, data, context=context)
    if value is None:
        raise FileProblems(tuple(one.line(source) for one in mistakes))
    return value


def attempt(
    model: type[M], data: object, *, context: Mapping[str, Any] | None = None
) -> tuple[M | None, tuple[Mistake, ...]]:
    """Validate without raising: return the model and no mistakes, or none and all of them.

    For readers that name places in their own way, such as a CSV file's lines.
    """
    try:
        return model.model_validate(data, context=dict(context or {})), ()
    except ValidationError as error:
        found = [_mistake(model, one) for one in error.errors(include_url=False) if not _follows(one)]
        return None, tuple(dict.fromkeys(found))


def schema_of(model: type[BaseModel], title: str) -> dict[str, Any]:
    """Return the JSON Schema of a file, for editors that complete and check as one types.

    Args:
        model: what the file holds.
        title: what to call it.
    """
    schema = _without_null(model.model_json_schema(by_alias=True, mode="validation"))
    assert isinstance(schema, dict)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": title}


def one_of(table: Mapping[str, Any], *keys: str) -> str:
    """Return what is wrong where exactly one of some keys is wanted, or nothing.

    Example:
        >>> one_of({"opening": 40, "for_strap": 38}, "opening", "for_strap")
        'found both opening and for_strap, expected exactly one of opening and for_strap'
    """
    given = [key for key in keys if key in table]
    if len(given) == 1:
        return ""
    wanted = f"{', '.join(keys[:-1])} and {keys[-1]}"
    if not given:
        found = "neither" if len(keys) == 2 else "none"
    else:
        found = f"both {' and '.join(given)}" if len(given) == 2 else ", ".join(given)
    return f"found {found}, expected exactly one of {wanted}"


def key_docstrings(table: type) -> Iterator[tuple[str, str]]:
    """Yield each key of a table with a docstring below it, and what that says, on one line."""
    [statement] = ast.parse(textwrap.dedent(inspect.getsource(table))).body
    assert isinstance(statement, ast.ClassDef)
    for key, below in pairwise(statement.body):
        match key, below:
            case ast.AnnAssign(target=ast.Name(name)), ast.Expr(ast.Constant(str(words))):
                yield name, " ".join(words.split())


def _again(detail: ErrorDetails) -> InitErrorDetails:
    """Return a caught error in the form that can be raised again."""
    context = dict(detail.get("ctx", {}))
    kind: str | PydanticCustomError = detail["type"]
    if kind == "mistake":
        kind = mistake(context["text"], other=tuple(context["other"]))
    return InitErrorDetails(type=kind, loc=detail["loc"], input=detail["input"], ctx=context)


def _follows(detail: ErrorDetails) -> bool:
    """Whether a list was counted as too short only because entries of it are wrong themselves."""
    return detail["type"] == "too_short" and len(detail["input"]) >= detail["ctx"]["min_length"]


def _mistake(model: type[BaseModel], detail: ErrorDetails) -> Mistake:
    loc, context = detail["loc"], detail.get("ctx", {})
    if detail["type"] == "extra_forbidden":
        table, key = place_of(model, loc[:-1]), str(loc[-1])
        return Mistake((*table.loc, key), unknown_key(key, table.keys))
    place = place_of(model, loc)
    if detail["type"] == "mistake":
        return Mistake(place.loc, context["text"], tuple(context["other"]))
    return Mistake(place.loc, said(detail, place))


def _without_null(schema: Any) -> Any:
    """Drop the null that stands for an absent key: neither TOML nor CSV can write one."""
    if isinstance(schema, list):
        return [_without_null(entry) for entry in schema]
    if not isinstance(schema, dict):
        return schema
    out = {key: _without_null(entry) for key, entry in schema.items() if entry is not None}
    choices = out.get("anyOf")
    if isinstance(choices, list) and {"type": "null"} in choices:
        kept = [choice for choice in choices if choice != {"type": "null"}]
        if len(kept) == 1 and isinstance(kept[0], dict):
            del out["anyOf"]
            return {**kept[0], **out}
        out["anyOf"] = kept
    return out
