"""Style sheets and scripts that ship with the package, and the few steps every page needs."""

import json
from html import escape
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


def text(value: object) -> str:
    """A value as HTML text or attribute."""
    return escape(str(value), quote=True)


def element(tag: str, content: str, css: str = "") -> str:
    """An element around HTML ``content``; nothing at all when there is no content."""
    if not content:
        return ""
    opening = f'{tag} class="{css}"' if css else tag
    return f"<{opening}>{content}</{tag}>"


def json_for_script(value: object) -> str:
    """JSON that can stand inside a script element: no "<" can end it early."""
    encoded = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    return encoded.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def page(title: str, css: str, body: str, script: str = "") -> str:
    """A self-contained HTML document."""
    code = f"<script>\n{script}</script>\n" if script else ""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{NOTHING_FROM_OUTSIDE}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{text(title)}</title>\n<style>\n{css}</style>\n</head>\n"
        f"<body>\n{body}\n{code}</body>\n</html>\n"
    )
