"""Columns that the database works out from what was typed, as `registry/rules/batches.py` has it."""

from typing import Any

from django.db import models
from django.db.models import F, Func, GeneratedField, Value
from django.db.models.functions import Length, Replace, Right, Substr, Upper

from registry.rules import batches


class CodeText(models.CharField):  # type: ignore[type-arg]
    """Text that is compared sign by sign, wherever the database's own language sorts its letters."""

    def db_parameters(self, connection: Any) -> Any:
        """Ask PostgreSQL for the plain order of signs, which SQLite has of itself."""
        found = super().db_parameters(connection)
        return {**found, "collation": "C" if connection.vendor == "postgresql" else None}


class PlainUpper(Upper):
    """Capitals of the letters A to Z alone, whichever language the database speaks."""

    def as_postgresql(self, compiler: Any, connection: Any, **more: Any) -> Any:
        """Ask for the plain order of signs, by which no other letter has a capital."""
        return super().as_sql(compiler, connection, template='UPPER((%(expressions)s) COLLATE "C")')


class Without(Func):
    """A text without some signs, which are named by their code points."""

    template = "%(expressions)s"

    def __init__(self, expression: Any, *codes: int, **extra: Any) -> None:
        """Take the signs out one after the other."""
        kept = expression
        for code in codes:
            kept = Replace(kept, Value(chr(code)), Value(""))
        super().__init__(kept, **extra)


class Exchanged(Func):
    """A text in which each of some signs is another one."""

    template = "%(expressions)s"

    def __init__(self, expression: Any, signs: str, others: str, **extra: Any) -> None:
        """Exchange the signs one after the other."""
        kept = expression
        for sign, other in zip(signs, others, strict=True):
            kept = Replace(kept, Value(sign), Value(other))
        super().__init__(kept, **extra)


class TrimmedEnd(Func):
    """A text without the signs of a set at its end."""

    function = "RTRIM"


class TrimmedStart(Func):
    """A text without the signs of a set at its start."""

    function = "LTRIM"


class Joined(Func):
    """Texts one after the other."""

    template = "(%(expressions)s)"
    arg_joiner = " || "


def _folded(column: str) -> Any:
    codes = [ord(sign) for sign in batches.LEFT_OUT]
    return PlainUpper(Without(F(column), *codes, output_field=CodeText()))


def _ordered(whole: Any) -> Any:
    text = CodeText()
    beginning = TrimmedEnd(whole, Value(batches.DIGITS), output_field=text)
    digits = Substr(whole, Length(beginning) + Value(1))
    padded = Joined(Value("0" * batches.PLACES), digits, output_field=text)
    return Joined(beginning, Value(" "), Right(padded, batches.PLACES), output_field=text)


def folded(column: str) -> GeneratedField:
    """Return a column with `batches.folded` of another."""
    return _column(_folded(column), batches.PLACES)


def ordered(column: str) -> GeneratedField:
    """Return a column with `batches.order_key` of another."""
    return _column(_ordered(_folded(column)), 2 * batches.PLACES + 10)


def alike(column: str) -> GeneratedField:
    """Return a column with `batches.alike_key` of another."""
    whole = Exchanged(_folded(column), *batches.LOOK_ALIKES, output_field=CodeText())
    return _column(_ordered(whole), 2 * batches.PLACES + 10)


def article(column: str) -> GeneratedField:
    """Return a column with `notice_matching.article_key` of another."""
    whole = TrimmedStart(_folded(column), Value("0"), output_field=CodeText())
    return _column(whole, batches.PLACES)


def _column(expression: Any, places: int) -> GeneratedField:
    return GeneratedField(
        expression=expression, output_field=CodeText(max_length=places), db_persist=True
    )
