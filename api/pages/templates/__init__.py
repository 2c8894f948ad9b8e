"""The templates of pages and pictures, made ready when the first of them is drawn."""

import functools

from jinja2 import Environment, PackageLoader, StrictUndefined, Template


@functools.cache
def environment() -> Environment:
    """All templates. Compiling one takes some 5 ms, ten times as long as drawing a chart with it."""
    return Environment(
        loader=PackageLoader("api.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def template(name: str) -> Template:
    """One of the templates in this folder, by its file's name."""
    return environment().get_template(name)
