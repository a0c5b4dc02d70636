"""Style sheets and scripts that ship with the package, and the few steps every page needs."""

import json
from importlib.resources import files

from jinja2 import Environment, StrictUndefined

NOTHING_FROM_OUTSIDE = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:"
)
"""Content security policy of every page: it may not fetch anything, from anywhere."""


def template(name: str) -> str:
    """Text of ``overwinter/data/templates/<name>``."""
    return (files("overwinter") / "data" / "templates" / name).read_text(encoding="utf-8")


def filled(name: str, **values: object) -> str:
    """A template with its blanks filled in; every value is escaped unless it is ``Markup``."""
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(template(name)).render(**values)


def json_for_script(value: object) -> str:
    """JSON that can stand inside a script element: no "<" can end it early."""
    encoded = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    return encoded.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def page(title: str, css: str, body: str, script: str = "") -> str:
    """A self-contained HTML document."""
    values = {"title": title, "css": css, "body": body, "script": script}
    return filled("page.html", policy=NOTHING_FROM_OUTSIDE, **values) + "\n"
