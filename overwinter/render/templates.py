"""The templates that ship with the package, and how they are filled in."""

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from overwinter.packaged import packaged

NOTHING_FROM_OUTSIDE = (  # content security policy of every page
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:"
)


@cache
def source(name: str) -> Markup:
    """Text of ``overwinter/data/templates/<name>`` as it is, such as a style sheet."""
    return Markup(packaged(f"templates/{name}"))


@cache
def _environment() -> Environment:
    found = Environment(
        loader=PackageLoader("overwinter", "data/templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.globals |= {"policy": NOTHING_FROM_OUTSIDE, "source": source}
    found.policies["json.dumps_kwargs"] = {"ensure_ascii": False, "separators": (",", ":")}
    return found


def filled(name: str, **values: object) -> Markup:
    """A template with its blanks filled in; every value is escaped unless it is ``Markup``."""
    return Markup(_environment().get_template(name).render(**values))
